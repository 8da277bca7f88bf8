"use strict";
// Looks at a page from inside a browser and sends what it finds as JSON to the page around it,
// frame.html. To be appended to a copy of the page as a script with the nonce "probe"; the policy of the
// copy also allows 'nonce-probe'. The page's own script has run by then.
addEventListener("load", () => {
  const errors = [];
  addEventListener("error", (event) => errors.push(event.message));
  addEventListener("securitypolicyviolation", (event) => errors.push(`${event.violatedDirective}: ${event.blockedURI}`));

  // Each table as given, and the rows, by their places in it, after each of three presses on each head.
  const tables = [...document.querySelectorAll("table")].map((table) => {
    const given = [...table.tBodies[0].rows];
    const order = () => [...table.tBodies[0].rows].map((row) => given.indexOf(row));
    const columns = [...table.tHead.rows[0].cells].map((header, index) => {
      const button = header.querySelector("button");
      const cells = given.map((row) => row.cells[index])
        .map((cell) => ({ text: cell.textContent, sort: cell.dataset.sort ?? null }));
      const steps = [];
      for (let press = 0; press < 3; press += 1) {
        button.focus();
        if (document.activeElement !== button) errors.push(`no focus on ${button.textContent}`);
        button.click();
        steps.push({ order: header.getAttribute("aria-sort"), rows: order() });
      }
      return { title: button.textContent, cells, steps };
    });
    return { caption: table.caption.textContent, columns };
  });

  // The pictures that are shown.
  const isShown = (element) => element.checkVisibility();
  const images = [...document.querySelectorAll("svg")].filter(isShown).map((svg) => {
    const box = svg.viewBox.baseVal;
    const sizes = [...svg.querySelectorAll("text")].map((text) => Number(text.getAttribute("font-size")));
    const { width, height } = svg.getBoundingClientRect();
    const around = svg.closest(".scroll");
    const page = svg.querySelector(".page");
    return {
      width, height, alt: svg.getAttribute("aria-label"),
      ground: page ? getComputedStyle(page).fill : null,
      stretch: width / box.width / (height / box.height),
      leastType: Math.min(...sizes) * width / box.width,
      whole: width <= around.clientWidth + 0.5,
      scrolls: ["auto", "scroll"].includes(getComputedStyle(around).overflowX),
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
    if (!walker.currentNode.data.trim() || element.closest("script, style, svg")) continue;
    const style = getComputedStyle(element);
    const [a, b] = [style.color, ground(element)].map(luminance);
    texts.push({
      text: walker.currentNode.data.trim().slice(0, 40), size: parseFloat(style.fontSize),
      contrast: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05),
    });
  }

  // Boxes that may scroll sideways, and if the keyboard stops at them.
  const scrollStops = [...document.querySelectorAll(".scroll")].map((box) => ({
    table: box.querySelector("table") !== null, stop: box.tabIndex === 0,
    scrolls: box.scrollWidth > box.clientWidth && getComputedStyle(box).overflowX === "auto",
  }));

  // Links within pictures have no hash of their own.
  const deadLinks = [...document.querySelectorAll('a[href^="#"]')]
    .map((link) => link.getAttribute("href"))
    .filter((href) => !document.getElementById(href.slice(1)));
  const ids = [...document.querySelectorAll("[id]")].map((element) => element.id);
  const repeatedIds = ids.filter((id, index) => ids.indexOf(id) !== index);

  // What has to stand on one sheet of paper, in the order of the page: the text of each piece without
  // spaces. A heading is part of what follows it; a table is the head with its caption, and the rows.
  const notOnPaper = "nav, .skip, .jump, .files, .narrow, script, style";
  // A text with an outline is drawn twice. Paper is white.
  const drawnText = (svg) => [...svg.querySelectorAll("text")].filter((text) => !text.closest(".night"))
    .map((text) => text.textContent.repeat(text.hasAttribute("stroke") ? 2 : 1)).join("");
  const textOf = (element) => {
    let text = "";
    const nodes = document.createTreeWalker(element, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
    while (nodes.nextNode()) {
      const node = nodes.currentNode;
      const element = node.nodeType === Node.TEXT_NODE ? node.parentElement : node;
      if (element.closest(notOnPaper)) continue;
      if (node.tagName === "svg") text += drawnText(node);
      else if (node.nodeType === Node.TEXT_NODE && !element.closest("svg")) text += node.data;
    }
    return text.replace(/\s+/g, "");
  };
  const pieces = [];
  let heading = "";
  const add = (text) => { pieces.push({ text: heading + text }); heading = ""; };
  const visit = (element) => {
    if (element.matches(notOnPaper)) return;
    if (element.matches("h1, h2, h3, .label")) heading += textOf(element);
    else if (element.matches("table")) {
      const head = textOf(element.tHead);
      const [first, ...rest] = [...element.tBodies[0].rows].map(textOf);
      heading += textOf(element.caption) + head;
      add(first ?? "");
      for (const row of rest) pieces.push({ text: row, head });
    } else if (element.matches("article, figure, p, li, pre, dt, dd")) add(textOf(element));
    else for (const child of element.children) visit(child);
  };
  visit(document.body);

  // Errors are reported in tasks of their own.
  setTimeout(() => {
    const { scrollWidth } = document.documentElement;
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    top.postMessage(JSON.stringify({
      errors, tables, images, texts, deadLinks, repeatedIds, scrollStops, pieces, scrollWidth,
      bodyWidth: document.body.scrollWidth, innerWidth, ground: ground(document.body), dark,
    }), "*");
  }, 50);
});
