// Tells how old the call is, for as long as the page is open, and takes the
// verdict away when it no longer holds. All words stand in the page.
"use strict";
(() => {
  const html = document.documentElement, main = document.querySelector("main");
  const age = document.getElementById("age");
  const made = Date.parse((age && age.dataset.made) || (main && main.dataset.made));
  const kept = Number(html.dataset.kept || 0);
  // Where the clock of the pages is not the world's, they say what it was.
  const shown = Date.parse((age && age.dataset.now) || "");
  const ahead = Number.isNaN(shown) ? 0 : shown - (kept || Date.now());
  const opened = Date.now();

  const fill = (words, ...values) => values.reduce((s, v, i) => s.replace(`{${i}}`, v), words || "");

  const words = (minutes) => {
    const hours = Math.floor(minutes / 60);
    if (hours >= 48) return fill(age.dataset.days, Math.floor(hours / 24));
    if (hours >= 1) return fill(age.dataset.hours, hours, minutes % 60);
    return fill(age.dataset.minutes, minutes);
  };

  const look = () => {
    const now = Date.now() + ahead;
    if (age && !Number.isNaN(made)) {
      const told = words(Math.max(0, Math.round((now - made) / 60000)));
      if (told) age.textContent = kept ? `${age.dataset.kept || ""} ${told}`.trim() : told;
      if (kept || Date.now() - opened > 10 * 60000) age.classList.add("stale");
    }
    for (const part of document.querySelectorAll("[data-expires]")) {
      if (part.querySelector("[data-expires]")) continue; // each trip has its own
      const until = [part.dataset.leave, part.dataset.expires].map((t) => Date.parse(t || "")).filter((t) => t > 0);
      if (until.length === 0 || now < Math.min(...until)) continue;
      for (const e of part.querySelectorAll(".expired")) e.hidden = false;
      for (const e of part.querySelectorAll(".verdict")) e.classList.add("old");
    }
  };

  look();
  setInterval(look, 60000);
  addEventListener("pageshow", look);
  document.addEventListener("visibilitychange", look);
})();
