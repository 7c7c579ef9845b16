// Forms that the server answers with a part of the page, or with where to go.
"use strict";
(() => {
  const LARGEST = 1_000_000; // bytes of a file

  async function dropped(file) {
    const bytes = new Uint8Array(await file.arrayBuffer());
    let text = "";
    for (let at = 0; at < bytes.length; at += 32768)
      text += String.fromCharCode(...bytes.subarray(at, at + 32768));
    return { name: file.name, content: btoa(text) };
  }

  // What a form asks: a value a name, a list where there may be many, pairs of what a
  // field is about and its value, and rows of a table with their own cells.
  async function told(form) {
    const body = {}, rows = new Map();
    for (const it of form.elements) {
      if (!it.name || it.disabled) continue;
      if (it.type === "file") {
        if (it.files.length) body[it.name] = await dropped(it.files[0]);
      } else if (it.closest("[data-row]")) {
        const row = it.closest("[data-row]");
        if (!rows.has(row)) {
          rows.set(row, JSON.parse(row.dataset.cells));
          (body[row.dataset.row] ??= []).push(rows.get(row));
        }
        rows.get(row)[it.name] = it.value.trim();
      } else if (it.dataset.of !== undefined) {
        (body[it.name] ??= []).push([JSON.parse(it.dataset.of), it.value.trim()]);
      } else if ("many" in it.dataset) {
        body[it.name] ??= [];
        if (it.checked) body[it.name].push(it.value);
      } else if (it.type === "checkbox") body[it.name] = it.checked;
      else if (it.type !== "radio") body[it.name] = it.value.trim();
      else if (it.checked) body[it.name] = it.value;
    }
    return body;
  }

  function says(form, lines) {
    const place = form.querySelector("[data-says]") ?? form.querySelector(".result");
    const list = document.createElement("ul");
    for (const each of lines) {
      const item = document.createElement("li");
      item.textContent = each;
      list.append(item);
    }
    place.classList.add("asks");
    place.replaceChildren(list);
    place.scrollIntoView({ block: "nearest" });
  }

  // What was written since it was sent stays where the same is asked again.
  function typed(sent, into) {
    for (const [it, value] of sent) {
      if (it.value === value || it.dataset.of === undefined) continue;
      const same = [...into.querySelectorAll(`[name="${it.name}"]`)];
      const found = same.find((each) => each.dataset.of === it.dataset.of);
      if (found) found.value = it.value;
    }
  }

  async function send(form) {
    if (form.dataset.busy) {
      form.dataset.again = "1"; // asked while an answer is on its way: once it is there
      return;
    }
    for (const it of form.elements)
      if (it.type === "file" && it.files[0]?.size > LARGEST)
        return says(form, [it.files[0].name + ": is larger than 1 MB. To fix: keep only the rows that are used."]);
    form.dataset.busy = "1";
    form.querySelector("[data-says]")?.replaceChildren();
    form.setAttribute("aria-busy", "true");
    const sent = new Map([...form.elements].map((it) => [it, it.value]));
    try {
      const reply = await fetch(form.dataset.to, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify(await told(form)),
        credentials: "omit",
        cache: "no-store",
      });
      if (reply.status === 410) return says(form, ["This page was closed. Open it again."]);
      if (reply.status === 413) return says(form, ["This is too large. To fix: keep only the rows that are used."]);
      if (!reply.ok && reply.status !== 409 && reply.status !== 422)
        return says(form, ["That could not be asked (" + reply.status + ")."]);
      const answer = await reply.json();
      if (answer.says) return says(form, answer.says);
      if (answer.go) return location.assign(answer.go);
      const into = document.getElementById(form.dataset.into);
      into.classList.remove("asks");
      const held = document.activeElement?.id;
      into.innerHTML = answer.html;
      if (!into.contains(form)) typed(sent, into);
      const same = form.dataset.sends && held && document.getElementById(held);
      (same || into).focus();
      if (form.dataset.again && form.dataset.sends) send(into.querySelector("form"));
    } catch {
      says(form, ["The program does not answer, so nothing is sure to be done. Start it again: optimiser open"]);
    } finally {
      delete form.dataset.busy;
      form.removeAttribute("aria-busy");
    }
  }

  document.addEventListener("submit", (event) => {
    event.preventDefault();
    send(event.target);
  });
  document.addEventListener("change", (event) => {
    const form = event.target.form;
    if (!form) return;
    if (event.target.type === "file" && event.target.files.length) return;
    if (form.dataset.sends === "change" && event.target.matches("select, input[type=checkbox]")) send(form);
  });
  for (const name of ["dragover", "drop"])
    document.addEventListener(name, (event) => {
      event.preventDefault(); // what misses its place is not opened instead of the page
      const place = event.target.closest?.("[data-drop]");
      if (name !== "drop" || !place || !event.dataTransfer.files.length) return;
      place.querySelector("input[type=file]").files = event.dataTransfer.files;
    });

})();
