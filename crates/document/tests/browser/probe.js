"use strict";
// Looks at a report from inside a browser and sends what it finds as JSON to the page around
// it, browser_frame.html. To be appended to a copy of the page as a script with the nonce "probe"; the policy of the copy
// also allows 'nonce-probe'. The page's own script has run by then.
addEventListener("load", () => {
  const errors = [];
  addEventListener("error", (event) => errors.push(event.message));
  addEventListener("securitypolicyviolation", (event) => errors.push(`${event.violatedDirective}: ${event.blockedURI}`));

  const column = (table, index) => [...table.tBodies[0].rows].map((row) => row.cells[index].textContent);
  const tables = [...document.querySelectorAll("table")].map((table) =>
    [...table.tHead.rows[0].cells].map((header, index) => {
      const button = header.querySelector("button");
      const steps = [{ order: header.getAttribute("aria-sort"), cells: column(table, index) }];
      for (let press = 0; press < 3; press += 1) {
        button.focus();
        if (document.activeElement !== button) errors.push(`no focus on ${button.textContent}`);
        button.click();
        steps.push({ order: header.getAttribute("aria-sort"), cells: column(table, index) });
      }
      return { title: button.textContent, steps };
    }));

  const images = [...document.images].map((image) => {
    const svg = decodeURIComponent(image.src.slice(image.src.indexOf(",") + 1));
    const box = /viewBox="([^"]*)"/.exec(svg)[1].split(/[ ,]+/).map(Number);
    const sizes = [...svg.matchAll(/font-size="([0-9.]+)"/g)].map((match) => Number(match[1]));
    const { width, height } = image.getBoundingClientRect();
    return {
      width, height, alt: image.alt, decoded: image.complete && image.naturalWidth > 0,
      stretch: width / box[2] / (height / box[3]),
      leastType: Math.min(...sizes) * width / box[2],
      scrolls: ["auto", "scroll"].includes(getComputedStyle(image.parentElement).overflowX),
    };
  });

  // WCAG 2.2, relative luminance and contrast ratio.
  const channels = (colour) => colour.match(/[0-9.]+/g).map(Number);
  const luminance = (colour) => {
    const [r, g, b] = channels(colour).slice(0, 3).map((value) => {
      const c = value / 255;
      return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ground = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if ((channels(colour)[3] ?? 1) === 1) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  const texts = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || element.closest("script, style")) continue;
    const style = getComputedStyle(element);
    const [a, b] = [style.color, ground(element)].map(luminance);
    texts.push({
      text: walker.currentNode.data.trim().slice(0, 40), size: parseFloat(style.fontSize),
      contrast: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05),
    });
  }

  const deadLinks = [...document.querySelectorAll('a[href^="#"]')]
    .filter((link) => !document.getElementById(link.hash.slice(1))).map((link) => link.hash);
  // Errors are reported in tasks of their own.
  setTimeout(() => {
    const { scrollWidth } = document.documentElement;
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    top.postMessage(JSON.stringify({
      errors, tables, images, texts, deadLinks, scrollWidth, bodyWidth: document.body.scrollWidth,
      innerWidth, ground: ground(document.body), dark,
    }), "*");
  }, 50);
});
