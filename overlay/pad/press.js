/**
 * Touches. A surface counts the moment it is touched; an action that must not happen by mistake has to be held.
 *
 * @template T
 * @typedef {object} Press
 * @property {(tickMs: number) => T} begin the moment of the touch, by the page's own clock; what it gives goes to `done`:
 *   holding must not cost the athlete time
 * @property {(began: T) => number} holdMs how long it must be held now; 0: a touch is enough
 * @property {(began: T, point: {x: number, y: number} | undefined) => void} done
 * @property {() => void} [short] let go too early
 */

/**
 * An event's own time is believed when it is no older than this: some browsers count it from another beginning. It is
 * longer than a page is ever busy, so that of two touches the second never seems the earlier one.
 */
const EVENT_OLD_MS = 60_000;

/**
 * When something was done, by the page's own clock: the device's time of the event, so that a page that was busy
 * (`performance.now()` says when it got round to it) moves no touch.
 *
 * @param {Event} event
 */
function tickOf({ timeStamp }) {
  const nowMs = performance.now();
  return nowMs - timeStamp >= 0 && nowMs - timeStamp < EVENT_OLD_MS ? timeStamp : nowMs;
}

/**
 * Make an element answer to fingers, and to a keyboard or an assistive tool, which act at once, because nobody presses
 * a key in passing.
 * @template T
 * @param {HTMLElement} element
 * @param {Press<T>} press
 */
export function onPress(element, press) {
  // A touch is its pointer events and no more: what a browser makes of it later (a gesture, a click) has the page looked
  // through and drawn once more, and the server's answer waits for that.
  element.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  /** @type {Map<number, ReturnType<typeof setTimeout>>} */
  const held = new Map();
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    const began = press.begin(tickOf(event));
    const ms = press.holdMs(began);
    if (!ms) return press.done(began, { x: event.clientX, y: event.clientY });
    const finish = () => {
      release(event.pointerId);
      press.done(began, undefined);
    };
    held.set(event.pointerId, setTimeout(finish, ms));
    element.style.setProperty("--hold", `${ms}ms`);
    element.dataset.held = "";
  });
  /** @param {number} pointer */
  const release = (pointer) => {
    clearTimeout(held.get(pointer));
    const was = held.delete(pointer);
    if (!held.size) delete element.dataset.held;
    return was;
  };
  for (const end of /** @type {const} */ (["pointerup", "pointercancel", "pointerleave"])) {
    element.addEventListener(end, (event) => {
      if (release(event.pointerId)) press.short?.();
    });
  }
  onKey(element, (tickMs) => press.done(press.begin(tickMs), undefined));
}

/**
 * @param {HTMLElement} element
 * @param {(tickMs: number) => void} act
 */
function onKey(element, act) {
  element.addEventListener("keydown", (event) => {
    if (event.key !== " " && event.key !== "Enter") return;
    event.preventDefault();
    if (!event.repeat) act(tickOf(event));
  });
  element.addEventListener("keyup", (event) => {
    if (event.key === " ") event.preventDefault(); // some browsers click on the key's way up
  });
  element.addEventListener("click", (event) => {
    if (event.detail === 0) act(tickOf(event));
  });
}
