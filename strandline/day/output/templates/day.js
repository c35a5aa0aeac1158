// Behaviour of the day's page: find, filter, sort, enlarge a picture, and load anew while photos still come in.
(function () {
  "use strict";
  const find = document.getElementById("find");
  const show = document.getElementById("show");
  const sort = document.getElementById("sort");
  const list = document.getElementById("bikes");
  const none = document.getElementById("none");
  const bikes = Array.from(list.querySelectorAll("article"));
  const exceptions = Array.from(document.querySelectorAll(".exception"));
  const groups = Array.from(document.querySelectorAll(".group"));
  const folded = document.getElementById("exceptions");
  const finder = document.getElementById("finder");

  function contains(article, words) {
    return words.every((word) => article.dataset.text.includes(word));
  }

  function compare(a, b) {
    const by = sort.value;
    if (by === "label") {
      return a.dataset.label.localeCompare(b.dataset.label, undefined, { numeric: true });
    }
    const difference = Number(a.dataset[by]) - Number(b.dataset[by]);
    return by === "card" ? difference : -difference;
  }

  function apply() {
    const words = find.value.toLowerCase().normalize("NFC").split(/\s+/).filter(Boolean);
    const kind = show.value;
    for (const article of exceptions) {
      article.hidden = !contains(article, words) || (kind !== "" && kind !== "exception");
    }
    for (const group of groups) {
      group.hidden = !group.querySelector(".exception:not([hidden])");
    }
    if (kind === "exception") folded.open = true;
    let count = 0;
    for (const bike of bikes) {
      const fits = kind === "" || bike.dataset.kinds.split(" ").includes(kind);
      bike.hidden = !fits || !contains(bike, words);
      count += bike.hidden ? 0 : 1;
    }
    none.hidden = count > 0;
    bikes.sort(compare);
    bikes.forEach((bike) => list.appendChild(bike));
    try {
      // So that a page that is loaded anew shows what it showed before.
      history.replaceState(null, "", "#" + [find.value, kind, sort.value].map(encodeURIComponent).join("&"));
    } catch (error) {
      // Some browsers forbid it for a file.
    }
  }

  const kept = location.hash.slice(1).split("&");
  if (kept.length === 3) {
    try {
      [find.value, show.value, sort.value] = kept.map(decodeURIComponent);
    } catch (error) {
      // An address that somebody changed by hand.
    }
  }
  // A wide screen has room for the fields; on a phone the first result comes before them.
  finder.open = matchMedia("(min-width: 46rem)").matches || find.value !== "" || Boolean(show.value);
  for (const link of document.querySelectorAll('a[href="#exceptions"]')) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      folded.open = true;
      folded.scrollIntoView();
    });
  }
  if (!show.value) show.value = "";
  if (!sort.value) sort.value = "card";
  for (const element of [find, show, sort]) {
    element.addEventListener("input", apply);
  }
  document.querySelector("nav form").addEventListener("submit", (event) => event.preventDefault());
  apply();

  const box = document.getElementById("zoom");
  const large = box.querySelector("img");
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button.pic");
    if (!button) return;
    const small = button.querySelector("img");
    large.src = small.src;
    large.alt = small.alt;
    box.className = "";
    box.showModal();
  });
  large.addEventListener("click", () => box.classList.toggle("near"));
  box.querySelector("button").addEventListener("click", () => box.close());
  box.addEventListener("close", () => large.removeAttribute("src"));

  const seconds = Number(document.body.dataset.reload);
  if (seconds) {
    setInterval(() => {
      if (!box.open && document.activeElement !== find) location.reload();
    }, seconds * 1000);
  }
})();
