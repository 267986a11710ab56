// Elements from a tag, attributes and children; text stays text. Owns nothing else.

const SVG = "http://www.w3.org/2000/svg";

export const h = (tag, attributes, ...children) => made(document.createElement(tag), attributes, children);
export const svg = (tag, attributes, ...children) => made(document.createElementNS(SVG, tag), attributes, children);

// `onclick` listens; true is an attribute without a value; false, null and undefined are none.
function made(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (name === "onclick") element.addEventListener("click", value);
    else if (value !== false && value !== null && value !== undefined) {
      element.setAttribute(name, value === true ? "" : value);
    }
  }
  element.append(...children.flat(Infinity).filter((one) => one !== null && one !== undefined && one !== false));
  return element;
}
