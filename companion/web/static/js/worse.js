// What somebody who looked again and tapped "worse" has answered ahead of the questions; never a better answer to it.

export const WORSE = ["course", "over_24h_or_worse"];

// For these eyes ("right", "left", "both"), as it stands in an address.
export const worseOf = (eyes) =>
  Object.fromEntries((eyes === "both" ? ["right", "left"] : [eyes]).map((eye) => [`${eye}.${WORSE[0]}`, WORSE[1]]));
