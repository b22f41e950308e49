// Elements in few words. Text is always text, never markup.

/** @typedef {Node|string|number|null|undefined|false} Child */
/** @typedef {HTMLInputElement|HTMLSelectElement|HTMLTextAreaElement} Filled */

/** What a field held when it was made; what it holds beyond that somebody typed. @type {WeakMap<Element, string>} */
const given = new WeakMap();

/**
 * An element with attributes, listeners ("onclick") and children.
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Object<string, any>} [attributes]
 * @param {...(Child|Child[])} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) set(element, name, value);
  element.append(...kept(children));
  if (isFilled(element)) given.set(element, element.value);
  return element;
}

/**
 * @param {HTMLElement} element
 * @param {string} name
 * @param {any} value
 */
function set(element, name, value) {
  if (value === null || value === undefined || value === false) return;
  if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
  else if (name === "value" || name === "checked" || name === "selected") Reflect.set(element, name, value);
  else element.setAttribute(name, value === true ? "" : String(value));
}

/**
 * @param {(Child|Child[])[]} children
 * @returns {(Node|string)[]}
 */
function kept(children) {
  return children
    .flat()
    .filter((child) => child !== null && child !== undefined && child !== false && child !== "")
    .map((child) => (child instanceof Node ? child : String(child)));
}

/** @param {Element} element @returns {element is Filled} */
const isFilled = (element) =>
  element instanceof HTMLSelectElement || element instanceof HTMLTextAreaElement ||
  (element instanceof HTMLInputElement && !["file", "checkbox", "radio"].includes(element.type));

/**
 * What somebody typed into fields and has not sent.
 * @param {HTMLElement} place
 */
const typedIn = (place) => [...place.querySelectorAll("input[id], select[id], textarea[id]")]
  .filter((one) => isFilled(one) && given.has(one) && one.value !== given.get(one))
  .map((one) => ({ id: one.id, value: /** @type {Filled} */ (one).value, was: given.get(one) }));

let filling = false;

// A field taken away while somebody types in it tells of a change; the field that takes its place
// tells of the same one later, and then the change would be made twice.
document.addEventListener("change", (event) => { if (filling) event.stopImmediatePropagation(); }, true);

/**
 * Put half-typed text into a field that took another one's place. The browser does not know that
 * it was typed and would never tell of the change, so this tells of it when the field is left.
 * @param {Filled} field @param {string} value
 */
function typeAgain(field, value) {
  field.value = value;
  let told = false;
  const tell = () => {
    if (told || filling || field.value === given.get(field)) return;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  };
  field.addEventListener("change", () => { told = true; }, { once: true });
  field.addEventListener("blur", tell);
  field.addEventListener("keydown", (event) => { if (/** @type {any} */ (event).key === "Enter") tell(); });
}

/**
 * Put children in place of what is there; focus and half-typed text stay where they are. A field
 * that was given another text meanwhile shows that, unless it is being typed in.
 * @param {HTMLElement} place
 * @param {...(Child|Child[])} children
 */
export function fill(place, ...children) {
  const active = document.activeElement;
  const id = active instanceof HTMLElement && place.contains(active) ? active.id : "";
  const typed = typedIn(place);
  const at = active instanceof HTMLInputElement ? selection(active) : null;
  const open = new Set([...place.querySelectorAll("details[open][id]")].map((d) => d.id));
  const top = place.scrollTop;
  filling = true;
  place.replaceChildren(...kept(children));
  filling = false;
  for (const details of place.querySelectorAll("details[id]")) {
    if (open.has(details.id)) details.setAttribute("open", "");
  }
  place.scrollTop = top;
  const again = id ? document.getElementById(id) : null;
  for (const { id: field, value, was } of typed) {
    const now = document.getElementById(field);
    if (now && isFilled(now) && (now === again || given.get(now) === was)) typeAgain(now, value);
  }
  if (again) again.focus({ preventScroll: true });
  else if (typed.some((one) => one.id === id)) active?.dispatchEvent(new Event("change"));
  if (again instanceof HTMLInputElement && at) again.setSelectionRange(...at);
}

/**
 * What was typed has been sent: the fields are as they were given.
 * @param {...string} ids
 */
export function sent(...ids) {
  for (const id of ids) {
    const field = document.getElementById(id);
    if (field && isFilled(field)) field.value = given.get(field) ?? "";
  }
}

/**
 * What is selected in a field; text typed next takes its place.
 * @param {HTMLInputElement} input
 * @returns {[number, number]|null}
 */
function selection(input) {
  try {
    const { selectionStart: from, selectionEnd: to } = input;
    return from === null || to === null ? null : [from, to];
  } catch {
    return null;
  }
}

/**
 * A small drawing from path data, in the colour of the text beside it.
 * @param {string} path
 * @returns {SVGElement}
 */
export function drawn(path) {
  return svg(`<svg xmlns="http://www.w3.org/2000/svg" class="drawn" viewBox="0 0 24 24" aria-hidden="true"><path d="${path}"/></svg>`);
}

/**
 * An SVG that the program itself made.
 * @param {string} text
 * @returns {SVGElement}
 */
export function svg(text) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return /** @type {any} */ (document.importNode(parsed, true));
}

/**
 * The element of this id, which the page has.
 * @param {string} id
 * @returns {HTMLElement}
 */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`The page has no #${id}.`);
  return found;
}
