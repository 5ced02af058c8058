"""Text on its own backing, measured in the browser: WCAG 2.2, 1.4.3 asks for 4.5 : 1."""

from __future__ import annotations

from playwright.sync_api import Page

_SCRIPT = r"""
(least) => {
  const light = ([r, g, b]) => {
    const linear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    const [x, y, z] = [r, g, b].map((value) => linear(value / 255));
    return 0.2126 * x + 0.7152 * y + 0.0722 * z;
  };
  const channels = (colour) => colour.match(/[\d.]+/g).map(Number);
  const opaque = (colour) => channels(colour).length === 3;
  const backing = (element) => {
    for (let each = element; each; each = each.parentElement) {
      const style = getComputedStyle(each);
      if (style.opacity !== "1") return undefined;
      if (opaque(style.backgroundColor)) return style.backgroundColor;
    }
    return undefined;
  };
  const hasText = (element) => [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
  const shown = (element) => element.checkVisibility({ visibilityProperty: true });
  return [...document.querySelectorAll("body *")].filter((e) => hasText(e) && shown(e)).flatMap((element) => {
    const [name, back] = [`${element.className}: ${element.textContent.slice(0, 24)}`, backing(element)];
    if (!back) return [`no backing: ${name}`];
    const [a, b] = [light(channels(getComputedStyle(element).color)), light(channels(back))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    return ratio < least ? [`${ratio.toFixed(2)}: ${name}`] : [];
  });
}
"""


def pale(page: Page, *, least: float = 4.5) -> list[str]:
    """Name the texts that have no opaque backing of their own, or too little contrast on it."""
    found: list[str] = page.evaluate(_SCRIPT, least)
    return found
