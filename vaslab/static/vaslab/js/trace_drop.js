// Files dropped anywhere on the page, or chosen, are sent one after the other, each with its progress and its
// answer. The two files of a WFDB recording go together. Without this script the form sends them all at once.

const form = document.getElementById("drop");
const chooser = document.getElementById("files");
const list = document.getElementById("sent");
const said = document.getElementById("drop-said");
const goOn = document.getElementById("go-on");
const most = Number(form.dataset.most);
let sending = false;

form.querySelector(".aim").hidden = false;
// Chosen files are sent at once; the button stays for keyboards and for a second try.
chooser.addEventListener("change", () => send([...chooser.files]));
form.addEventListener("submit", (event) => {
  event.preventDefault();
  send([...chooser.files]);
});

for (const name of ["dragenter", "dragover"]) {
  document.addEventListener(name, (event) => {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    form.classList.add("over");
  });
}
document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) form.classList.remove("over");
});
document.addEventListener("drop", (event) => {
  if (!event.dataTransfer?.files.length) return;
  event.preventDefault();
  form.classList.remove("over");
  send([...event.dataTransfer.files]);
});
window.addEventListener("beforeunload", (event) => {
  if (sending) event.preventDefault();
});

async function send(files) {
  if (sending) return;
  list.replaceChildren();
  goOn.hidden = true;
  if (!files.length) {
    refuse(line(""), "Choose at least one file, or drop it on this page.");
    return;
  }
  if (files.length > most) {
    refuse(line(""), `These are ${files.length} files; at most ${most} are taken at once. None was sent: drop them in two parts.`);
    return;
  }
  sending = true;
  let kept = 0;
  let refused = 0;
  for (const group of await together(files)) {
    const answer = await sendOne(group);
    kept += answer.kept;
    refused += answer.refused;
  }
  sending = false;
  chooser.value = "";
  said.textContent = `${kept} kept, ${refused} not kept.`;
  if (kept && !refused) location.assign(form.dataset.matchUrl);
  goOn.hidden = !kept;
}

// A header and the files of its samples share their name up to the ending. Where a header names segments
// ("name/3 2 50"), all headers and their files belong to each other.
async function together(files) {
  const stem = (file) => file.name.replace(/\.[^.]*$/, "");
  const headers = new Set(files.filter((file) => /\.hea$/i.test(file.name)).map(stem));
  const begins = await Promise.all(files.filter((file) => /\.hea$/i.test(file.name)).map((file) => file.slice(0, 512).text()));
  const segments = begins.some((text) => /^[^\s#/]+\/\d+\s/m.test(text));
  const groups = new Map();
  for (const file of files) {
    const key = headers.has(stem(file)) ? (segments ? "record" : `record ${stem(file)}`) : file;
    groups.set(key, [...(groups.get(key) ?? []), file]);
  }
  return groups.values();
}

function sendOne(files) {
  const place = line(files.map((file) => file.name).join(" + "));
  const bar = document.createElement("progress");
  bar.max = 100;
  bar.value = 0;
  bar.setAttribute("aria-label", `Sending ${files[0].name}`);
  place.append(bar);
  const body = new FormData();
  for (const file of files) body.append("files", file, file.name);
  return new Promise((done) => {
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.setRequestHeader("Accept", "application/json");
    request.setRequestHeader("X-CSRFToken", document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "");
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) bar.value = (100 * event.loaded) / event.total;
    });
    const failed = (words) => {
      bar.remove();
      refuse(place, words);
      done({ kept: 0, refused: files.length });
    };
    request.addEventListener("error", () => failed("No connection: not sent. Drop it again when the connection is back."));
    request.addEventListener("load", () => {
      if (request.status === 401) {
        failed("Your sign-in has ended: not sent. Sign in again in a new tab, then drop it again.");
        return;
      }
      if (request.status !== 200 && request.status !== 422) {
        failed("That did not work and the file was not kept. Try it again; if it stays so, tell your system administrator.");
        return;
      }
      const answer = JSON.parse(request.responseText);
      bar.remove();
      if (answer.kept.length) place.append(": kept");
      for (const one of answer.refused) refuse(place, one.words);
      done({ kept: answer.kept.length, refused: answer.refused.length });
    });
    request.send(body);
  });
}

function line(name) {
  const item = document.createElement("li");
  const strong = document.createElement("strong");
  strong.textContent = name;
  item.append(strong);
  list.append(item);
  return item;
}

function refuse(place, words) {
  const wrong = document.createElement("span");
  wrong.className = "wrong";
  wrong.setAttribute("role", "alert");
  wrong.textContent = words;
  place.append(wrong);
}
