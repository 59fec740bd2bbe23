// Files brought in, with how much of them is here; and work under way in the background.
for (const form of document.querySelectorAll(".bring")) {
  const input = form.querySelector("input[type=file]");
  const place = form.querySelector(".waiting");
  const bar = form.querySelector("progress");
  input.addEventListener("change", () => {
    const [file] = input.files;
    if (!file) return;
    const request = new XMLHttpRequest();
    request.open("POST", `${form.dataset.to}?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.upload.addEventListener("progress", (event) => {
      bar.hidden = false;
      if (event.lengthComputable) bar.value = event.loaded / event.total;
    });
    request.addEventListener("load", () => {
      const told = JSON.parse(request.responseText || "{}");
      if (request.status === 200) {
        look(form.dataset.to, told.name);
        return;
      }
      bar.hidden = true;
      input.value = "";
      place.textContent = told.trouble || request.statusText;
    });
    request.addEventListener("error", () => {
      bar.hidden = true;
      place.textContent = request.statusText || "×";
    });
    place.textContent = form.dataset.going;
    request.send(file);
  });
}

// What was brought is looked at straight away.
const look = (to, name) => {
  const [, , slug, kind] = to.split("/");
  const body = new URLSearchParams({ name });
  fetch(`/r/${slug}/${kind === "take" ? "takes/watch" : "music/listen"}`, { method: "POST", body }).then(() => location.reload());
};

for (const form of document.querySelectorAll("form[data-waits]")) {
  form.addEventListener("submit", () => {
    const place = form.querySelector(".waiting");
    if (place) place.textContent = form.dataset.waits;
  });
}

const working = [...document.querySelectorAll(".working")];
const slug = location.pathname.split("/")[2];
const follow = async () => {
  try {
    const answer = await fetch(`/r/${slug}/working`);
    const told = await answer.json();
    for (const place of working) {
      const state = told[place.dataset.about];
      if (!state || !state.is_running) {
        location.reload();
        return;
      }
      if (state.stage) place.querySelector(".stage").textContent = state.stage;
      place.querySelector("progress").value = state.share;
    }
  } finally {
    setTimeout(follow, 700);
  }
};
if (working.length) setTimeout(follow, 500);
