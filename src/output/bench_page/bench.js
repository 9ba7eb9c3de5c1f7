// What the pages of the bench do in the browser: cells are sent as they are typed, the split is fetched again, files are dropped.
"use strict";
(() => {
  const meta = (name) => document.querySelector(`meta[name="${name}"]`)?.content ?? "";
  const token = meta("token");
  const tube = meta("tube");
  const cells = () => [...document.querySelectorAll("input.cell")];
  const saidBy = (cell) => document.getElementById(cell.getAttribute("aria-describedby"));
  const waiting = new Map();
  let sending = Promise.resolve();

  const tell = (cell, state, words) => {
    cell.classList.remove("kept", "refused", "odd");
    if (state) cell.classList.add(state);
    cell.setAttribute("aria-invalid", state === "refused" || state === "odd" ? "true" : "false");
    const said = saidBy(cell);
    if (said) said.textContent = words ?? "";
  };

  const asked = (cell, theirs) => {
    tell(cell, "refused", theirs === "" ? "was taken out meanwhile. " : `was changed to ${theirs} meanwhile. `);
    const said = saidBy(cell);
    const choice = (words, act) => {
      const b = document.createElement("button");
      b.type = "button";
      b.textContent = words;
      b.addEventListener("click", act);
      said?.append(b);
    };
    choice("keep mine", () => { cell.dataset.was = theirs; send([cell]); });
    choice("take the other", () => { cell.value = theirs; cell.dataset.was = theirs; tell(cell, "kept", ""); refresh(); });
  };

  // One request at a time, made up when its turn comes, so that a cell typed twice is kept as typed last.
  const send = (all) => {
    let list = [], typed = [];
    sending = sending.then(() => {
      list = all.filter((c) => c.value.trim() !== (c.dataset.was ?? ""));
      typed = list.map((c) => c.value);
      if (!list.length) return null;
      const at = list.map((c) => ({ ...JSON.parse(c.dataset.at), text: c.value, was: c.dataset.was }));
      return fetch("/cells", {
        method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ token, tube, cells: at }),
      });
    }).then(async (r) => {
      if (!r) return;
      if (!r.ok) throw new Error(await r.text());
      const answers = (await r.json()).cells;
      answers.forEach((a, i) => {
        const cell = list[i];
        if (a.kept !== undefined) {
          cell.dataset.was = a.kept;
          if (cell.value === typed[i]) { cell.value = a.kept; tell(cell, a.kept === "" ? "" : "kept", ""); }
        } else if (a.now !== undefined) asked(cell, a.now);
        else tell(cell, "refused", `Not kept: ${a.why}`);
        waiting.delete(cell);
      });
      if (answers.some((a) => a.kept !== undefined)) refresh();
    }).catch((e) => {
      list.forEach((c) => tell(c, "refused", `Not kept: ${e.message || "the program does not answer"}. It is tried again.`));
      list.forEach((c) => waiting.set(c, true));
    });
    return sending;
  };
  setInterval(() => { if (waiting.size) { const list = [...waiting.keys()]; waiting.clear(); send(list); } }, 3000);

  // The split card is fetched again a moment after the last reading; a first look is followed by the full number.
  let timer = 0, asking = false, again = false;
  const mend = (html) => {
    const box = document.getElementById("answer");
    if (!box) return;
    box.innerHTML = html;
    const odd = new Map([...box.querySelectorAll("[data-odd]")].map((o) => [o.dataset.odd, o.textContent]));
    cells().forEach((c) => {
      const words = odd.get(c.dataset.key);
      if (words && c.dataset.was) tell(c, "odd", words);
      else if (c.classList.contains("odd")) tell(c, "kept", "");
    });
  };
  const fetchAnswer = async (more) => {
    if (asking) { again = true; return; }
    asking = true;
    try {
      const r = await fetch(`/answer?tube=${encodeURIComponent(tube)}${more ? "&more=1" : ""}`);
      if (r.ok) {
        mend(await r.text());
        const stage = r.headers.get("x-stage");
        if (stage === "first") timer = setTimeout(() => fetchAnswer(true), 10);
        else if (stage === "behind") timer = setTimeout(() => fetchAnswer(false), 300);
        else if (stage !== "whole") timer = setTimeout(() => fetchAnswer(true), 2500);
      }
    } catch { timer = setTimeout(() => fetchAnswer(more), 3000); }
    asking = false;
    if (again) { again = false; refresh(); }
  };
  const refresh = () => { clearTimeout(timer); timer = setTimeout(() => fetchAnswer(false), 60); };

  // Readings one by one: a prompt in large type, Enter goes on.
  const steps = [...document.querySelectorAll("[data-step]")];
  let at = steps.findIndex((s) => s.querySelector("input.cell")?.dataset.was === "");
  const show = (i) => {
    at = i;
    steps.forEach((s, j) => s.classList.toggle("hidden", j !== i));
    const done = document.getElementById("done");
    if (done) done.classList.toggle("hidden", i < steps.length);
    const count = document.getElementById("count");
    if (count && i < steps.length) count.textContent = `${i + 1} of ${steps.length}`;
    steps[i]?.querySelector("input.cell")?.focus();
    if (i >= steps.length) fetchNext();
  };
  const fetchNext = async () => {
    const box = document.getElementById("done");
    if (!box) return;
    await sending;
    const r = await fetch(`/next?tube=${encodeURIComponent(tube)}`).catch(() => null);
    if (r?.ok) { box.innerHTML = await r.text(); box.querySelector("a,button")?.focus(); }
  };
  if (steps.length) {
    show(at < 0 ? steps.length : at);
    document.getElementById("back")?.addEventListener("click", () => show(Math.max(0, at - 1)));
    document.getElementById("skip")?.addEventListener("click", () => show(Math.min(steps.length, at + 1)));
  }

  const changed = (cell) => cell.value.trim() !== (cell.dataset.was ?? "");
  const next = (cell) => {
    const list = cells();
    const step = cell.closest("[data-step]");
    if (step) { show(Math.min(steps.length, steps.indexOf(step) + 1)); return; }
    const i = list.indexOf(cell) + 1;
    if (i < list.length) { list[i].focus(); list[i].select(); }
  };
  document.addEventListener("keydown", (e) => {
    const cell = e.target;
    if (e.key !== "Enter" || !(cell instanceof HTMLInputElement) || !cell.classList.contains("cell")) return;
    e.preventDefault();
    if (!changed(cell)) { next(cell); return; }
    // a value that is refused keeps the place; one that is kept goes on
    const step = cell.closest("[data-step]");
    if (step) send([cell]).then(() => { if (!cell.classList.contains("refused")) next(cell); });
    else { send([cell]); next(cell); }
  });
  document.addEventListener("change", (e) => {
    const cell = e.target;
    if (cell instanceof HTMLInputElement && cell.classList.contains("cell") && changed(cell)) send([cell]);
  });
  // A column pasted from a logger or a table fills the cells from this one on.
  document.addEventListener("paste", (e) => {
    const cell = e.target;
    if (!(cell instanceof HTMLInputElement) || !cell.classList.contains("cell")) return;
    const text = e.clipboardData?.getData("text") ?? "";
    const values = text.split(/[\r\n\t;]+/).map((v) => v.trim()).filter((v) => v !== "");
    if (values.length < 2) return;
    e.preventDefault();
    const list = cells(), from = list.indexOf(cell);
    const filled = values.slice(0, list.length - from).map((v, i) => { list[from + i].value = v; return list[from + i]; });
    send(filled).then(() => {
      if (values.length > filled.length) tell(filled[filled.length - 1], "refused", `${values.length - filled.length} more values were pasted than there are cells: they were left out.`);
      const step = filled[filled.length - 1].closest("[data-step]");
      if (step) show(Math.min(steps.length, steps.indexOf(step) + 1));
    });
  });

  if (document.getElementById("answer")) {
    if (meta("stage") !== "whole") fetchAnswer(false); else mend(document.getElementById("answer").innerHTML);
  }

  // A picture of ends dropped on the page, or chosen.
  const drop = document.querySelector(".drop");
  if (drop) {
    const take = async (file) => {
      const said = document.getElementById("drop-said");
      said.textContent = `${file.name}: rings are looked for.`;
      const r = await fetch(`/ends/picture?name=${encodeURIComponent(file.name)}`, {
        method: "POST", headers: { "x-token": token, "content-type": "application/octet-stream" }, body: file,
      }).catch(() => null);
      if (r?.ok) location.href = await r.text();
      else said.textContent = r ? await r.text() : "The program does not answer.";
    };
    for (const kind of ["dragover", "dragenter"]) drop.addEventListener(kind, (e) => { e.preventDefault(); drop.classList.add("over"); });
    drop.addEventListener("dragleave", () => drop.classList.remove("over"));
    drop.addEventListener("drop", (e) => { e.preventDefault(); drop.classList.remove("over"); const f = e.dataTransfer.files[0]; if (f) take(f); });
    drop.querySelector("input[type=file]")?.addEventListener("change", (e) => { const f = e.target.files[0]; if (f) take(f); });
  }
})();
