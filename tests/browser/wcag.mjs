// Contrast and target size as WCAG 2.2 computes them, on what the browser has drawn.

/// Texts whose contrast against what is behind them is below 4.5:1, or 3:1 where they are large.
/// src  WCAG 2.2, 1.4.3 and its definitions of relative luminance and contrast ratio; large: 24 px, or 18.66 px and bold
export async function contrastFaults(page) {
  return page.evaluate(() => {
    const parts = (colour) => {
      const [r, g, b, a = 1] = colour.match(/[\d.]+/g).map(Number);
      return { r, g, b, a };
    };
    const luminance = ({ r, g, b }) => {
      const [x, y, z] = [r, g, b].map((c) => c / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
      return 0.2126 * x + 0.7152 * y + 0.0722 * z;
    };
    const behind = (element) => {
      for (let one = element; one; one = one.parentElement) {
        const colour = parts(getComputedStyle(one).backgroundColor);
        if (colour.a === 1) return colour;
      }
      return { r: 255, g: 255, b: 255 };
    };
    const faults = [];
    let looked = 0;
    for (const element of document.querySelectorAll("body *")) {
      const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim() !== "");
      const field = element.matches("input, select") && element.value !== "";
      if (!(own || field) || !element.checkVisibility() || element.closest(".unseen, .skip, svg")) continue;
      const style = getComputedStyle(element);
      if (element.disabled) continue; // 1.4.3 asks nothing of inactive parts
      looked += 1;
      const [one, two] = [luminance(parts(style.color)), luminance(behind(element))];
      const ratio = (Math.max(one, two) + 0.05) / (Math.min(one, two) + 0.05);
      const size = Number.parseFloat(style.fontSize);
      const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
      if (ratio < (large ? 3 : 4.5)) faults.push(`${ratio.toFixed(2)} ${element.tagName} ${element.id} ${element.textContent.slice(0, 40)}`);
    }
    if (looked < 20) faults.push(`only ${looked} texts were looked at`);
    return faults;
  });
}

/// What can be pressed and is smaller than 24 by 24 CSS pixels.
export async function smallTargets(page) {
  return page.evaluate(() => [...document.querySelectorAll("button, input, select, summary, a")].filter((one) => one.checkVisibility() && !one.closest(".skip"))
    .filter((one) => {
      const { width, height } = one.getBoundingClientRect();
      return width < 24 || height < 24;
    }).map((one) => `${one.tagName} ${one.id} ${one.textContent.slice(0, 30)}`));
}
