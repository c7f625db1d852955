// Figures: each has a name for those who do not see it, and letters that can be read.

// Runs in the page. Lengths are CSS pixels where they are of what is shown, else units of the drawing.
function defects(least_size) {
  // How far letters may reach out of the drawing, and labels into each other.
  const OUT = 2;
  const INTO = 3;
  const found = [];
  const say = (svg, what) => {
    const name = svg.querySelector("title")?.textContent ?? svg.getAttribute("class") ?? "a drawing";
    found.push(`${name}: ${what}`);
  };
  const shown = (element) => element.getClientRects().length > 0 && element.checkVisibility({ visibilityProperty: true, opacityProperty: true });

  function check_name(svg) {
    const ids = (svg.getAttribute("aria-labelledby") ?? "").split(/\s+/).filter(Boolean);
    const words = ids.map((id) => document.getElementById(id)?.textContent.trim() ?? "");
    if (ids.length === 0 && !svg.getAttribute("aria-label")?.trim()) say(svg, "has no accessible name");
    else if (words.some((text) => text === "")) say(svg, `aria-labelledby "${ids.join(" ")}" leads to nothing`);
  }

  // Box of a text in units of the drawing; of its height what letters take without accents.
  function box(svg, text) {
    const to_drawing = svg.getScreenCTM().inverse().multiply(text.getScreenCTM());
    const { x, y, width, height } = text.getBBox();
    const corners = [[x, y + 0.22 * height], [x + width, y + 0.22 * height], [x, y + 0.8 * height], [x + width, y + 0.8 * height]]
      .map(([left, top]) => new DOMPoint(left, top).matrixTransform(to_drawing));
    const across = corners.map((point) => point.x);
    const down = corners.map((point) => point.y);
    return { left: Math.min(...across), right: Math.max(...across), top: Math.min(...down), bottom: Math.max(...down), words: text.textContent.trim() };
  }

  function check_letters(svg) {
    const { x, y, width, height } = svg.viewBox.baseVal;
    const texts = [...svg.querySelectorAll("text")].filter((text) => shown(text) && text.textContent.trim() !== "");
    const boxes = texts.map((text) => box(svg, text));
    for (const one of boxes) {
      const out = Math.max(x - one.left, one.right - x - width, y - one.top, one.bottom - y - height);
      if (out > OUT) say(svg, `"${one.words}" reaches ${out.toFixed(1)} out of the drawing`);
    }
    boxes.forEach((one, n) => boxes.slice(n + 1).forEach((other) => {
      const across = Math.min(one.right, other.right) - Math.max(one.left, other.left);
      const down = Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top);
      if (Math.min(across, down) > INTO) say(svg, `"${one.words}" and "${other.words}" overlap by ${across.toFixed(1)} × ${down.toFixed(1)}`);
    }));
    const sizes = texts.map((text) => [parseFloat(getComputedStyle(text).fontSize) * Math.hypot(text.getScreenCTM().a, text.getScreenCTM().b), text]);
    const [size, text] = sizes.sort((one, other) => one[0] - other[0])[0] ?? [Infinity];
    if (size < least_size) say(svg, `letters of "${text.textContent.trim()}" are ${size.toFixed(1)} px high`);
  }

  // Contrast of a colour against another, as WCAG 2.1 defines it (success criterion 1.4.3).
  function contrast(one, other) {
    const luminance = (colour) => {
      const [red, green, blue] = colour.match(/[\d.]+/g).slice(0, 3).map((part) => part / 255)
        .map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
      return 0.2126 * red + 0.7152 * green + 0.0722 * blue + 0.05;
    };
    const [dark, light] = [luminance(one), luminance(other)].sort((a, b) => a - b);
    return light / dark;
  }

  // Letters against the ground on which the drawing stands.
  function check_colours(svg) {
    const outer = (element) => {
      const colour = getComputedStyle(element).backgroundColor;
      if (colour.startsWith("rgb(")) return colour;
      return element.parentElement ? outer(element.parentElement) : "rgb(255, 255, 255)";
    };
    const ground = outer(svg);
    const fills = new Map([...svg.querySelectorAll("text, tspan")].map((text) => [getComputedStyle(text).fill, text.textContent.trim()]));
    for (const [fill, words] of fills) {
      if (contrast(fill, ground) < 4.5) say(svg, `"${words}" has contrast ${contrast(fill, ground).toFixed(1)} against its ground`);
    }
  }

  for (const svg of document.querySelectorAll("svg")) {
    if (svg.getAttribute("role") === "img") check_name(svg);
    else if (svg.getAttribute("aria-hidden") !== "true" && !svg.closest("[aria-hidden=true]")) say(svg, "is neither named nor hidden from assistive technology");
    if (svg.viewBox.baseVal && shown(svg)) {
      check_letters(svg);
      check_colours(svg);
    }
  }
  return found;
}

export async function check_figures(page, { medium }) {
  return page.evaluate(defects, medium === "print" ? 8 : 9);
}
