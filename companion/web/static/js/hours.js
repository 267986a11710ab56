// Who is at the practice by the hours of the days ahead, which the last sync brought; beyond them nobody is known to be
// there. Pure.

// The practice at a moment of the server's clock, as companion/usecases/showing.py has it. What the release before has
// kept knows no hours.
export function practiceAt(practice, now) {
  const { open, on_call } = practice.hours ?? { open: [], on_call: [] };
  const holds = ([from, until]) => Date.parse(from) <= now && now < Date.parse(until);
  const isOpen = open.some(holds);
  const isOnCall = !isOpen && on_call.some(holds);
  const isThere = isOpen || isOnCall;
  const [next = null] = [...open, ...on_call].map(([from]) => from).filter((from) => Date.parse(from) > now)
    .sort((one, other) => Date.parse(one) - Date.parse(other));
  return { ...practice, on_duty: isThere, on_call: isOnCall, opens_at: isThere ? null : next };
}
