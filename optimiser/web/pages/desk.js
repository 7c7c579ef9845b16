// Parts of the page are made by the server and exchanged here; nothing else is fetched.
"use strict";
(() => {
  const desk = document.getElementById("desk");
  const answer = document.getElementById("answer");
  const said = document.getElementById("said");
  const own = desk.dataset.own;
  const PAUSE = 250; // ms without a move before the second opinion is asked
  let number = Number(desk.dataset.number);
  let busy = false; // one question at a time; the last move of each limit waits
  const waiting = new Map();
  let timer = 0;

  const post = (what, body) =>
    fetch(own + what, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ number, ...body }),
      credentials: "omit",
      cache: "no-store",
    });

  // -- exchanging parts ---------------------------------------------------------------
  // What is there stays, so that a slider in the hand and the focus stay too.
  const keyOf = (node) => (node.dataset ? node.dataset.key || node.id : "") || "";

  function exchange(old, made) {
    if (old.dataset && "keep" in old.dataset) return;
    for (const { name } of [...old.attributes])
      if (!made.hasAttribute(name) && name !== "open" && name !== "data-of") old.removeAttribute(name);
    for (const { name, value } of [...made.attributes])
      if (old.getAttribute(name) !== value && name !== "aria-expanded") old.setAttribute(name, value);
    if (old.localName === "input") return figure(old, made);
    if (old.localName === "select") {
      const value = made.value;
      old.replaceChildren(...made.childNodes);
      old.value = value;
      return;
    }
    const keyed = new Map();
    for (const each of old.children) if (keyOf(each)) keyed.set(keyOf(each), each);
    let at = old.firstChild;
    for (const next of [...made.childNodes]) {
      const key = keyOf(next);
      let same = key ? keyed.get(key) : at;
      const alike = (one) =>
        one && one.nodeName === next.nodeName && keyOf(one) === key;
      if (!alike(same)) same = null;
      if (!same) {
        old.insertBefore(next, at);
        continue;
      }
      if (same.contains(document.activeElement))
        while (at && at !== same) {
          const away = at;
          at = at.nextSibling;
          away.remove();
        }
      if (same === at) at = at.nextSibling;
      else old.insertBefore(same, at);
      if (same.nodeType === Node.ELEMENT_NODE) exchange(same, next);
      else if (same.data !== next.data) same.data = next.data;
    }
    while (at) {
      const away = at;
      at = at.nextSibling;
      away.remove();
    }
  }

  function figure(old, made) {
    if (old.type === "checkbox") {
      old.checked = made.hasAttribute("checked");
      return;
    }
    const inHand = document.activeElement === old && (old.type !== "range" || busy);
    const limit = old.dataset.limit;
    if (!inHand && !(limit && waiting.has(limit)) && old.value !== made.value)
      old.value = made.value;
  }

  function mark(before) {
    for (const row of answer.querySelectorAll("tr.ingredient")) {
      const cell = row.querySelector(".now");
      const moved = before.has(row.dataset.key) && before.get(row.dataset.key) !== cell.textContent;
      cell.classList.toggle("changed", moved);
    }
  }

  function show(told) {
    if (told.number < number) return; // an answer to a question of before
    number = told.number;
    desk.dataset.number = number;
    desk.dataset.settled = told.settled ? 1 : 0;
    const before = new Map();
    for (const row of answer.querySelectorAll("tr.ingredient"))
      before.set(row.dataset.key, row.querySelector(".now").textContent);
    const made = document.createElement("div");
    made.id = "answer";
    made.innerHTML = told.html;
    exchange(answer, made);
    mark(before);
    if (!told.settled) later();
    else redraw();
  }

  // -- price curves ---------------------------------------------------------------------
  // The curve of a rule's own limit is the same wherever on it the limit stands.
  // It is drawn below the lines that it is about, which keep their place.
  const buttons = () => [...answer.querySelectorAll("button[data-curve]")];
  const panelOf = (button) => document.getElementById(button.getAttribute("aria-controls"));
  const limitOf = (rule) => [...answer.querySelectorAll(".limit")].find((each) => each.dataset.rule === rule);

  function redraw() {
    for (const panel of answer.querySelectorAll(".drawn-below:not([hidden])")) {
      const button = buttons().find((each) => each.dataset.curve === panel.dataset.rule);
      if (!button) shut(panel);
      else if (panel.dataset.of !== desk.dataset.number && !panel.contains(document.activeElement)) draw(button);
    }
    const compared = document.getElementById("compare");
    if (compared.open && compared.dataset.of !== desk.dataset.number) compare(false);
  }

  function shut(panel) {
    const button = buttons().find((each) => each.dataset.curve === panel.dataset.rule);
    panel.hidden = true;
    panel.replaceChildren();
    button?.setAttribute("aria-expanded", "false");
    return button;
  }

  async function unfold(button) {
    const panel = panelOf(button);
    const was = button.getAttribute("aria-expanded") === "true";
    if (!panel.hidden) shut(panel);
    if (was) return;
    button.setAttribute("aria-expanded", "true");
    panel.dataset.rule = button.dataset.curve;
    panel.textContent = "Drawing …";
    panel.hidden = false;
    await draw(button);
    panel.scrollIntoView({ block: "nearest" });
  }

  async function draw(button) {
    const panel = panelOf(button);
    const rule = button.dataset.curve;
    const reply = await fetch(own + "curve?rule=" + encodeURIComponent(rule), { credentials: "omit", cache: "no-store" }).catch(() => null);
    if (!reply || (!reply.ok && reply.status !== 422)) return;
    const told = await reply.json();
    if (panel.hidden || panel.dataset.rule !== rule || panel.contains(document.activeElement)) return;
    panel.dataset.of = told.number ?? "";
    if (told.html) panel.innerHTML = told.html;
    else panel.textContent = told.says.join(" ");
    here(panel);
  }

  // -- formulas side by side ------------------------------------------------------------
  async function compare(search) {
    const details = document.getElementById("compare");
    const place = details.querySelector(".drawn");
    const asks = new URLSearchParams();
    for (const each of place.querySelectorAll("[data-of]:checked")) asks.append("of", each.dataset.of);
    if (search) asks.append("search", "1");
    if (search || !place.firstChild) said.textContent = search ? "Looking for variants …" : "";
    const reply = await fetch(own + "compare?" + asks, { credentials: "omit", cache: "no-store" }).catch(() => null);
    said.textContent = "";
    if (!reply || (!reply.ok && reply.status !== 422)) return;
    const told = await reply.json();
    if (told.says) {
      said.textContent = told.says.join(" ");
      return;
    }
    const held = document.activeElement?.dataset.of;
    details.dataset.of = told.number;
    place.innerHTML = told.html;
    if (held !== undefined)
      [...place.querySelectorAll("[data-of]")].find((each) => each.dataset.of === held)?.focus();
  }

  // A line where the limit stands.
  function here(place) {
    const along = place.querySelector(".along");
    const svg = along?.querySelector("svg.plot");
    if (!svg) return;
    const { left, right, low, high } = along.dataset;
    const at = Number(along.querySelector("[data-along]").value);
    const share = Math.min(1, Math.max(0, (at - low) / (high - low)));
    const x = Number(left) + share * (right - left);
    let line = svg.querySelector(".here");
    if (!line) {
      line = document.createElementNS(svg.namespaceURI, "path");
      line.setAttribute("class", "here");
      svg.append(line);
    }
    line.setAttribute("d", "M" + x.toFixed(1) + " 22V258");
  }

  function dragged(event) {
    const svg = event.target.closest(".along svg.plot");
    if (!svg || !(event.buttons & 1)) return;
    event.preventDefault();
    const along = svg.closest(".along");
    const slide = along.querySelector("[data-along]");
    const box = svg.getBoundingClientRect();
    const { left, right, low, high } = along.dataset;
    const x = ((event.clientX - box.left) / box.width) * svg.viewBox.baseVal.width;
    const share = Math.min(1, Math.max(0, (x - left) / (right - left)));
    slide.value = Number(low) + share * (high - low);
    slide.focus({ preventScroll: true });
    moved(slide);
  }
  answer.addEventListener("pointerdown", dragged);
  answer.addEventListener("pointermove", dragged);
  answer.addEventListener(
    "toggle",
    (event) => {
      const it = event.target;
      if (it.open && it.id === "compare") compare(false);
    },
    true,
  );
  // By keyboard a step is that of the limit's own field, not of the curve.
  answer.addEventListener("keydown", (event) => {
    const it = event.target;
    if (!("along" in it.dataset)) return;
    const way = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[event.key];
    if (!way) return;
    event.preventDefault();
    const step = Number(limitOf(it.dataset.limit).querySelector(".figure").step);
    it.value = (Math.round(it.value / step) + way) * step;
    moved(it);
  });

  // -- asking ---------------------------------------------------------------------------
  async function ask(what, body) {
    busy = true;
    try {
      const reply = await post(what, body);
      if (reply.status === 410) said.textContent = "This page was closed. Open the scenario again.";
      else if (!reply.ok && reply.status !== 409 && reply.status !== 422)
        said.textContent = "That could not be asked (" + reply.status + ").";
      else {
        said.textContent = "";
        const told = await reply.json();
        busy = false;
        if (told.html) show(told);
        const held = document.activeElement;
        if (told.says && held?.dataset.limit && !waiting.has(held.dataset.limit))
          held.value = held.defaultValue; // what was refused goes back
        return told;
      }
    } catch {
      said.textContent = "The program does not answer. Start it again: optimiser open";
    } finally {
      busy = false;
      desk.dataset.waits = waiting.size;
    }
    return null;
  }

  async function next() {
    if (busy || waiting.size === 0) return;
    const [key, wish] = waiting.entries().next().value;
    waiting.delete(key);
    clearTimeout(timer);
    await ask("wish", { wish });
    next();
  }

  function wishes(key, wish) {
    waiting.set(key, wish);
    desk.dataset.waits = waiting.size;
    next();
  }

  function later() {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      if (busy || waiting.size) return later();
      const asked = number;
      const reply = await fetch(own + "answer?number=" + asked, { credentials: "omit", cache: "no-store" }).catch(() => null);
      if (!reply || asked !== number || !reply.ok) return;
      const told = await reply.json();
      if (told.number === number) show(told);
    }, PAUSE);
  }

  // -- hands ----------------------------------------------------------------------------
  function moved(input) {
    let to = Number(input.value);
    if (input.value === "" || !Number.isFinite(to)) return;
    const limit = limitOf(input.dataset.limit);
    const panel = [...answer.querySelectorAll(".drawn-below:not([hidden])")].find((each) => each.dataset.rule === input.dataset.limit);
    if ("along" in input.dataset) {
      const step = Number(limit.querySelector(".figure").step);
      to = Number((Math.round(to / step) * step).toFixed(9));
    }
    for (const place of [limit, panel])
      for (const each of place?.querySelectorAll("[data-limit]") ?? [])
        if (each !== input) each.value = to;
    if (panel) here(panel);
    wishes(input.dataset.limit, { do: "limit", rule: input.dataset.limit, to });
  }

  answer.addEventListener("input", (event) => {
    if (event.target.matches("input.slide")) moved(event.target);
  });
  answer.addEventListener("change", (event) => {
    const it = event.target;
    if (it.matches("input.figure[data-limit]")) moved(it);
    else if (it.closest("#compare")) compare(false);
    else if (it.matches("[data-pin]") && it.value !== "")
      wishes("pin" + it.dataset.pin, { do: "pin", ingredient: it.dataset.pin, at: Number(it.value) });
    else if (it.matches("[data-allergen]"))
      wishes("allergen" + it.dataset.allergen, { do: "allergen", allergen: it.dataset.allergen, out: it.checked });
    else if (it.matches("[data-product]")) wishes("product", { do: "product", product: it.value });
    else if (it.matches("[data-market]")) {
      const on = [...answer.querySelectorAll("[data-market]:checked")].map((each) => each.dataset.market);
      wishes("markets", { do: "markets", markets: on });
    } else if (it.matches("[data-pick]")) wishes(it.id, JSON.parse(it.value));
  });
  answer.addEventListener("click", async (event) => {
    const it = event.target.closest("button");
    if (!it) return;
    if (it.dataset.wish) wishes(it.dataset.wish, JSON.parse(it.dataset.wish));
    else if (it.dataset.post) ask(it.dataset.post, {});
    else if ("search" in it.dataset) compare(true);
    else if (it.dataset.curve) unfold(it);
    else if ("shut" in it.dataset) shut(it.closest(".drawn-below"))?.focus();
    else if (it.dataset.open) open();
    else if ("close" in it.dataset) close();
  });
  answer.addEventListener("submit", (event) => {
    event.preventDefault();
    save(document.getElementById("save-name").value, null);
  });

  // -- saving ---------------------------------------------------------------------------
  const part = () => document.getElementById("saving-part");

  async function open() {
    const reply = await fetch(own + "saving", { credentials: "omit", cache: "no-store" });
    if (!reply.ok) return;
    part().innerHTML = (await reply.json()).saving;
    document.getElementById("saving").focus();
  }

  function close() {
    part().replaceChildren();
    document.getElementById("save").focus();
  }

  async function save(name, agreed) {
    const told = await ask("save", { name, agreed });
    if (!told) return;
    const line = document.getElementById("save-said");
    if (told.saved) {
      close();
      said.textContent = told.saved;
    } else if (told.taken) {
      line.textContent = told.says + " ";
      const over = document.createElement("button");
      over.type = "button";
      over.textContent = "Write over it";
      over.addEventListener("click", () => save(name, told.taken));
      line.append(over);
    } else if (told.says && line) line.textContent = told.says;
  }

  // A file that was changed outside is noticed when the page is looked at again.
  window.addEventListener("focus", () => { if (!busy) later(); });
  if (desk.dataset.settled !== "1") later();
})();
