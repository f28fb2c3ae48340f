// The workbook's script: asks for the page that a form or a link stands for, and swaps the regions marked data-live.
// Without it every form and link works as it is.
"use strict";
(() => {
  const live = () => document.querySelectorAll("[data-live]");
  // Nobody answers any longer: that is said, and stays said until somebody does.
  function gone(is) {
    document.body.classList.toggle("gone", is);
    const note = document.getElementById("gone");
    if (note) note.hidden = !is;
  }
  const last = new Map();  // what each live region was swapped for
  let late = false;  // news came for a region that was being written in
  let busy = false, waiting = null, shown = location.href.split("#")[0];

  // The latest wish of the hand wins: one request under way, one waiting. News displaces nothing that the hand asked for.
  async function ask(wish) {
    if (busy) { if (!waiting || !wish.news) waiting = wish; return; }
    busy = true;
    try {
      const answer = await fetch(wish.url || location.href.split("#")[0], { headers: { "X-Follow": "1" } });
      const text = await answer.text();
      if (!waiting || waiting.moving || waiting.news) swap(text, wish);
      if (wish.keep) { shown = wish.url; history[wish.keep]({}, "", wish.url + (wish.hash || "")); }
      if (wish.then) wish.then();
    } catch (unheard) { gone(true); }
    busy = false;
    if (waiting) { const next = waiting; waiting = null; ask(next); }
  }

  // Whether a hand has changed a field: a tick and a choice count as what is typed does.
  function touched(field) {
    if (field.options) return field.selectedIndex !== Math.max(0, [...field.options].findIndex((one) => one.defaultSelected));
    return field.value !== field.defaultValue || field.checked !== field.defaultChecked;
  }

  function swap(text, wish) {
    const page = new DOMParser().parseFromString(text, "text/html");
    // Another kind of page (the file can no longer be read, or can again) comes whole; what is being written stays.
    const [own, other] = [document, page].map((of) => of.getElementById("answer"));
    if (own && other && own.className !== other.className) {
      const text = document.querySelector("textarea");
      if (!text || text.value === text.defaultValue) wish.keep ? location.assign(wish.url) : location.reload();
      return;
    }
    const isAwaiting = document.querySelector("[data-live] .coming");
    const focus = document.activeElement, id = focus && focus.id, key = focus && focus.dataset && focus.dataset.keep;
    for (const old of live()) {
      const fresh = page.getElementById(old.id);
      const written = fresh && fresh.innerHTML;
      if (!fresh || (last.get(old.id) || old.innerHTML) === written) continue;
      // What is being written or held is left alone; the file's own sum guards what is written.
      const text = old.querySelector("textarea");
      if (text && text.value !== text.defaultValue) continue;
      const typing = focus && focus.type === "text" && focus.value !== "" && !wish.keep;
      const holding = focus && focus.type === "range" && wish.moving;
      const begun = [...old.querySelectorAll("form:not([data-follow]) :is(input, select)")].some(touched);
      if ((typing || holding) && old.contains(focus) || begun && !wish.keep) { late = late || !wish.moving; continue; }
      const open = [...old.querySelectorAll("details")].map((one) => one.open);
      last.set(old.id, written);
      old.replaceChildren(...fresh.childNodes);
      if (!wish.card) [...old.querySelectorAll("details")].forEach((one, i) => { if (open[i]) one.open = true; });
    }
    for (const name of ["sum", "tried"]) if (page.body) document.body.dataset[name] = page.body.dataset[name] || "";
    if (page.title) document.title = page.title;
    if (!wish.moving) controls(page);
    const again = id && document.getElementById(id) || key && document.querySelector(`[data-keep="${key}"]`);
    if (again && again !== document.activeElement && !document.body.contains(focus)) again.focus({ preventScroll: true });
    // A field that comes with what was awaited takes the hand, as on a page that had it at once.
    const first = isAwaiting && document.querySelector("[data-live] [autofocus]");
    if (first && document.activeElement === document.body) first.focus({ preventScroll: true });
    ready();
    document.dispatchEvent(new CustomEvent("swapped", { detail: wish }));
  }

  // Controls keep their elements, so that a slider under the hand stays under it; their values and hidden fields follow.
  function controls(page) {
    for (const form of document.querySelectorAll("form[data-follow], form.pick")) {
      if (form.closest("[data-live]")) continue;
      const twin = [...page.querySelectorAll("form")].find((one) => one.className === form.className);
      if (!twin) continue;
      for (const hidden of form.querySelectorAll("input[type=hidden]")) hidden.remove();
      for (const hidden of twin.querySelectorAll("input[type=hidden]")) form.append(hidden.cloneNode());
      for (const input of twin.querySelectorAll("input[name]:not([type=hidden]), select")) {
        const own = [...form.elements].find((one) => one.name === input.name && (input.type !== "radio" || one.value === input.value));
        if (!own || own === document.activeElement && own.type === "range") continue;
        if (input.type === "radio") own.checked = input.checked; else own.value = input.value;
      }
    }
  }

  function query(form) {
    const pairs = [...new FormData(form)].filter(([key, value]) => value !== "" && key !== "figure" && key !== "value");
    const data = new FormData(form);
    if (data.get("figure") && data.get("value")) pairs.push(["try", data.get("figure") + ":" + data.get("value")]);
    return new URLSearchParams(pairs).toString();
  }

  function follow(form, moving) {
    const url = form.getAttribute("action") + "?" + query(form);
    // While the hand moves, of the drawings for screens of some widths only the one that is seen is wanted.
    const isSeen = (one) => { const found = document.querySelector(one); return found && getComputedStyle(found).display !== "none"; };
    const width = isSeen(".wide, .desk") ? "wide" : isSeen(".middle") ? "middle" : "narrow";
    // What is folded is not wanted either.
    const table = document.querySelector("#tables details, #waves > details");
    const fields = document.querySelector("#card .figures");
    const open = (table && table.open ? ".table" : "") + (fields && fields.open ? ".figures" : "");
    const hurry = "&moving=1&seen=" + width + open;
    ask({ url: url + (moving ? hurry : ""), moving, keep: moving ? null : "pushState" });
  }

  document.addEventListener("input", (event) => {
    const form = event.target.form;
    if (!form || form.dataset.follow === undefined) return;
    if (event.target.dataset.to) {
      const field = document.getElementById(event.target.dataset.to);
      field.value = event.target.value + " " + event.target.dataset.unit;
    }
    if (event.target.type === "range") follow(form, true);
  });
  document.addEventListener("change", (event) => {
    const form = event.target.form;
    if (!form) return;
    if (event.target.name === "with") ranges();
    if (form.dataset.pick !== undefined) form.submit();
    else if (form.dataset.follow !== undefined) follow(form, false);
  });
  document.addEventListener("submit", (event) => {
    // What is typed would be lost on the browser's own page.
    if (document.body.classList.contains("gone")) {
      event.preventDefault();
      const note = document.getElementById("gone");
      if (note) { note.scrollIntoView({ block: "nearest" }); note.focus(); }
      return;
    }
    if (event.target.dataset.follow === undefined) return;
    event.preventDefault();
    follow(event.target, false);
  });

  document.addEventListener("focusout", () => {
    if (late) { late = false; setTimeout(() => ask({ news: true }), 200); }
  });

  // Links that stay on this view only swap what is live.
  document.addEventListener("click", (event) => {
    const link = event.target.closest && event.target.closest("a");
    if (!link || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
    const href = link.getAttribute("href");
    if (!href || href.startsWith("#") || link.hasAttribute("download")) return;
    const there = new URL(href, location.href);
    if (there.pathname !== location.pathname || there.origin !== location.origin) return;
    if (!link.closest("[data-live]") && !document.querySelector("main section[data-live], main [data-whole]")) return;
    event.preventDefault();
    const card = there.hash && there.hash.slice(1);
    ask({ url: there.href.split("#")[0], keep: "pushState", hash: there.hash, card, then: () => {
      const place = card && document.getElementById(card), whole = document.querySelector("[data-whole]");
      if (!place && whole) {
        const first = whole.querySelector("[autofocus]");
        scrollTo(0, 0);
        if (first) first.focus({ preventScroll: true });
      }
      if (!place) return;
      place.tabIndex = -1;
      place.focus({ preventScroll: true });
      const box = place.getBoundingClientRect();
      if (box.top < 0 || box.top > innerHeight - 160) place.scrollIntoView({ block: "nearest" });
    } });
  });
  addEventListener("popstate", () => {
    if (location.href.split("#")[0] !== shown) { shown = location.href.split("#")[0]; ask({ url: shown }); }
  });

  // Undo and redo as everywhere; in a field they are the field's own.
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
    if (/^(TEXTAREA|SELECT)$/.test(event.target.tagName) || event.target.type === "text") return;
    const form = document.querySelector(`form[action="do-${event.shiftKey ? "redo" : "undo"}"]`);
    if (form && !form.querySelector("button").disabled) { event.preventDefault(); form.submit(); }
  });

  // News of the file and of the search.
  const working = document.getElementById("working");
  let number = Number(document.body.dataset.news || 0);
  async function listen() {
    for (;;) {
      try {
        const news = await (await fetch("news?after=" + number)).json();
        const isNew = news.news > number && number > 0;
        number = news.news;
        gone(news.closing);
        if (working) {
          working.hidden = !news.searching;
          document.documentElement.classList.toggle("searching", news.searching);
          working.querySelector("[data-line]").textContent = news.line;
          working.querySelector("[data-level]").setAttribute("d", `M0 2H${(100 * news.share).toFixed(1)}`);
        }
        // What was refused stays until it is sent again.
        if (isNew && !document.body.dataset.still && !document.querySelector(".now .fault")) ask({ news: true });
        if (news.closing) return;
      } catch (unheard) {
        gone(true);
        await new Promise((later) => setTimeout(later, 2000));
      }
    }
  }

  // Of the ranges, those of the chosen instrument alone are offered.
  function ranges() {
    for (const range of document.querySelectorAll("select[name=range]")) {
      const own = range.form && range.form.elements.with;
      if (!own) continue;
      for (const group of range.querySelectorAll("optgroup")) group.hidden = group.disabled = group.label !== own.value;
      const chosen = range.selectedOptions[0];
      if (chosen && chosen.parentElement.disabled) range.value = "";
    }
  }

  // A level as the pages without script say it: to 10 of its thousandths, smaller ones to three digits.
  function inHand(value, unit) {
    const size = Math.abs(value);
    if (value === 0) return "0\u00a0" + unit;
    let [digits, power] = size.toExponential(size < 0.995 ? 2 : 3).split("e").map(Number);
    const step = size < 0.995 ? Math.max(-9, 3 * Math.floor(power / 3)) : 0;
    const decimals = Math.max(0, size < 0.995 ? 2 - power + step : Math.min(2, 3 - power));
    const text = (digits * 10 ** (power - step)).toFixed(decimals);
    return (value < 0 ? "\u2212" : "") + text + "\u00a0" + ({ "-9": "n", "-6": "\u00b5", "-3": "m" }[step] || "") + unit;
  }

  // The step in hand is in sight in the row of steps, once for each; what takes the hand has it, however the page came.
  let step = "";
  function bench() {
    const here = document.querySelector(".steps [aria-current]");
    if (here && step !== here.textContent) {
      step = here.textContent;
      const row = here.parentElement;
      row.scrollLeft = here.offsetLeft - (row.clientWidth - here.offsetWidth) / 2;
    }
    const field = document.getElementById("typed");
    if (field && location.hash === "#typed" && document.activeElement === document.body) field.focus({ preventScroll: true });
  }

  // A file that is dropped on a form for one is as good as chosen.
  for (const kind of ["dragover", "dragleave", "drop"]) {
    document.addEventListener(kind, (event) => {
      const place = event.target.closest && event.target.closest(".now"), form = place && place.querySelector("form[data-drop]");
      if (!form || kind !== "dragleave" && ![...event.dataTransfer.types].includes("Files")) return;
      event.preventDefault();
      form.parentElement.open = true;
      form.classList.toggle("dropping", kind === "dragover");
      if (kind !== "drop" || !event.dataTransfer.files.length) return;
      form.elements.file.files = event.dataTransfer.files;
      form.requestSubmit();
    });
  }

  // The read-out: an upright over the drawing, figures in fixed places above it. Of the drawings for a desk and for a phone
  // one is seen; both follow.
  function ready() {
    ranges();
    bench();
    const row = document.querySelector("[data-readout]"), drawings = [...document.querySelectorAll("svg[data-left]")];
    if (!row || !drawings.length || drawings[0].querySelector(".hand-upright")) return;
    const outputs = [...row.querySelectorAll("[data-series]")];
    const series = outputs.map((one) => one.dataset.series.split(" ").map(Number));
    const last = series[0].length - 1, seconds = +row.dataset.seconds, region = row.closest("[data-live]");
    let at = +(region.dataset.at || row.dataset.start);
    const sheets = drawings.map((svg) => {
      const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
      line.setAttribute("class", "hand-upright");
      svg.append(line, ...svg.querySelectorAll(":scope > text"));
      svg.setAttribute("tabindex", "0");
      return { svg, line, left: +svg.dataset.left, right: +svg.dataset.right,
        panels: svg.dataset.panels.split(",").map((one) => one.split(" ")) };
    });
    const show = (index) => {
      at = Math.max(0, Math.min(last, index));
      region.dataset.at = at;
      for (const { line, left, right, panels } of sheets) {
        const x = (left + (right - left) * at / last).toFixed(1);
        line.setAttribute("d", panels.map(([top, bottom]) => `M${x} ${top}V${bottom}`).join(""));
      }
      row.querySelector("[data-time]").textContent = (1e3 * seconds * at / last).toFixed(1) + "\u00a0ms";
      outputs.forEach((one, i) => {
        one.textContent = inHand(series[i][at], one.dataset.unit);
      });
    };
    show(at);
    for (const { svg, left, right } of sheets) {
      const point = (event) => {
        const box = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / box.width;
        show(Math.round(((event.clientX - box.left) * scale - left) / (right - left) * last));
      };
      svg.addEventListener("pointermove", point);
      svg.addEventListener("pointerdown", point);
      svg.addEventListener("keydown", (event) => {
        const half = +row.dataset.half, step = event.shiftKey ? half : 1;
        const to = { ArrowLeft: at - step, ArrowRight: at + step, Home: 0, End: last }[event.key];
        if (to === undefined) return;
        event.preventDefault();
        show(to);
      });
    }
  }

  // Paper waits for what is being sought.
  let isAwaited = false;
  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-print]");
    if (!key) return;
    isAwaited = key.dataset.waits !== undefined;
    if (isAwaited) key.textContent = key.dataset.will; else print();
  });
  document.addEventListener("swapped", () => {
    const key = isAwaited && document.querySelector("[data-print]");
    if (!key) return;
    isAwaited = key.dataset.waits !== undefined;
    if (isAwaited) key.textContent = key.dataset.will; else print();
  });
  ready();
  listen();
})();
