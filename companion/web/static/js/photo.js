// A photo is made smaller on the phone before its form is sent: a slow network carries a few hundred kB, not ten MB.
// The form is a plain one and stays so; a photo that this browser cannot read is sent as it is, and the server says.

const LONGEST = 1600; // px, as companion/exchange/picture.py has it
const QUALITY = 0.85;

for (const form of document.querySelectorAll("form[data-photo]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    form.querySelector("button").setAttribute("aria-busy", "true");
    shrink(form.elements.photo).catch(() => {}).then(() => form.submit());
  }, { once: true });
}

async function shrink(input) {
  const [file] = input.files;
  if (!file) return;
  const smaller = await redrawn(file);
  const held = new DataTransfer();
  held.items.add(new File([smaller], "photo.jpg", { type: "image/jpeg" }));
  input.files = held.files;
}

// Drawn anew: what the camera wrote beside the picture, such as where it was taken, stays on the phone.
async function redrawn(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  return new Promise((resolve, reject) => {
    canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error("no picture"))), "image/jpeg", QUALITY);
  });
}
