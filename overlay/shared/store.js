/** One value, and those who want to know when it changes. */

/**
 * @template T
 * @typedef {object} Store
 * @property {() => T} get
 * @property {(next: T) => void} set tells the listeners, unless `next` is the very same value
 * @property {(listener: (value: T) => void) => () => void} subscribe gives the function that ends the subscription
 */

/**
 * @template T
 * @param {T} initial
 * @returns {Store<T>}
 */
export function createStore(initial) {
  let value = initial;
  /** @type {Set<(value: T) => void>} */
  const listeners = new Set();
  return {
    get: () => value,
    set(next) {
      if (Object.is(next, value)) return;
      value = next;
      for (const listener of [...listeners]) listener(value);
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => void listeners.delete(listener);
    },
  };
}
