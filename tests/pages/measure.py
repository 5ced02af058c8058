"""What is wrong with a picture, measured in the browser: text that spills, overlaps or leaves its frame."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page

_SCRIPT = """
([row, slack, frame]) => {
  // A face keeps room above its capitals that no letter of a name or a figure reaches.
  const EMPTY = 0.15;
  const wrong = [];
  const shown = (element) => element.checkVisibility({ visibilityProperty: true });
  const name = (element) => `${element.dataset.part ?? element.className}: ${element.textContent.slice(0, 24)}`;
  const boxOf = (thing) => {
    const { left, top, right, bottom } = thing.getBoundingClientRect();
    return { left, top, right, bottom };
  };
  const hasText = (element) => [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
  const scrolled = (element) => element.closest("[data-part=lines]") !== null;
  const inside = (inner, outer) =>
    inner.left >= outer.left - slack && inner.right <= outer.right + slack &&
    inner.top >= outer.top - slack && inner.bottom <= outer.bottom + slack;
  const apart = (a, b) =>
    a.right <= b.left + slack || b.right <= a.left + slack || a.bottom <= b.top + slack || b.bottom <= a.top + slack;

  const texts = [...document.querySelectorAll("body *")].filter((e) => hasText(e) && shown(e) && !scrolled(e));
  const ink = new Map();
  for (const element of texts) {
    const range = document.createRange();
    range.selectNodeContents(element);
    const [box, drawn] = [boxOf(element), boxOf(range)];
    drawn.top += EMPTY * (drawn.bottom - drawn.top);
    const clips = getComputedStyle(element).overflowX !== "visible";
    const spills = drawn.left < box.left - slack || drawn.right > box.right + slack;
    if (spills && !clips) wrong.push(`spills: ${name(element)}`);
    if (clips) Object.assign(drawn, { left: Math.max(drawn.left, box.left), right: Math.min(drawn.right, box.right) });
    if (clips && element.clientWidth < 20) wrong.push(`no room: ${name(element)}`);
    ink.set(element, drawn);
    const held = { ...box, left: drawn.left, right: drawn.right };
    if (!inside(held, frame)) wrong.push(`leaves the frame: ${name(element)}`);
  }

  const rows = [...document.querySelectorAll(row)].filter(shown);
  rows.forEach((one, index) => {
    if (!inside(boxOf(one), frame)) wrong.push(`row leaves the frame: ${name(one)}`);
    for (const other of rows.slice(index + 1)) {
      if (!apart(boxOf(one), boxOf(other))) wrong.push(`rows overlap: ${name(one)} / ${name(other)}`);
    }
    const cells = texts.filter((text) => one.contains(text));
    cells.forEach((cell, at) => {
      const box = ink.get(cell);
      if (box.top + box.bottom < 2 * boxOf(one).top || box.top + box.bottom > 2 * boxOf(one).bottom) {
        wrong.push(`leaves its row: ${name(cell)}`);
      }
      for (const other of cells.slice(at + 1)) {
        if (!apart(box, ink.get(other))) wrong.push(`text overlaps: ${name(cell)} / ${name(other)}`);
      }
    });
  });
  const root = document.scrollingElement;
  if (root.scrollWidth > innerWidth || root.scrollHeight > innerHeight) wrong.push("the page scrolls");
  return wrong;
}
"""


def faults(page: Page, *, inset: float = 0.0, slack: float = 1.0, row: str = "row") -> list[str]:
    """Say what is wrong. Everything must be inside the frame, which is `inset` of the size from each edge.

    Within one part called `row` no two texts may overlap, and no two of these parts may.
    """
    size = page.viewport_size
    assert size is not None
    width, height = size["width"], size["height"]
    frame: dict[str, Any] = {
        "left": width * inset,
        "top": height * inset,
        "right": width * (1 - inset),
        "bottom": height * (1 - inset),
    }
    found: list[str] = page.evaluate(_SCRIPT, [f'[data-part="{row}"]', slack, frame])
    return found


def settle(page: Page) -> None:
    """Wait until what was sent is drawn."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
