// A file to save: made by the program, kept by the browser.

import { api, Problem } from "./api.js";
import { h } from "./dom.js";
import { say } from "./say.js";

/**
 * @param {string} address
 * @param {HTMLButtonElement} button that was pressed; it says that something is being done
 */
export async function save(address, button) {
  const words = button.textContent;
  button.disabled = true;
  button.textContent = "Making it …";
  try {
    const { blob, name } = await api.file(address);
    const made = URL.createObjectURL(blob);
    const link = h("a", { href: made, download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(made), 60_000);
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    say(error.message);
  }
  button.disabled = false;
  button.textContent = words;
}
