// The zone of this phone's clock, and the cookie in which the server's pages find it (companion/web/whereabouts.py).

const YEAR = 365 * 24 * 3600; // s

export const zoneHere = () => Intl.DateTimeFormat().resolvedOptions().timeZone;

export function tellZone() {
  const told = `zone=${zoneHere()}`;
  if (document.cookie.split("; ").includes(told)) return;
  document.cookie = `${told}; Path=/; Max-Age=${YEAR}; SameSite=Lax${location.protocol === "https:" ? "; Secure" : ""}`;
}
