// Elements of the page: made by name, attributes and children; text is always text, never markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === false || value === undefined || value === null) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

export function make(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function draw(tag, attributes, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

export function later(wait, action) {
  // Return a function that runs `action` once it has not been called for `wait` ms.
  let timer = 0;
  const put = (...given) => {
    clearTimeout(timer);
    timer = setTimeout(() => action(...given), wait);
  };
  put.cancel = () => clearTimeout(timer);
  return put;
}

export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
