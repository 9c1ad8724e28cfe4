// Photos of the field: made smaller on the device before they are kept, sent as pictures before the facts that name them.

import { newId } from "./field_facts.js";

/** The longer side of what is kept, px: as the service keeps it. */
const LONGER_PX = 2048;
const QUALITY = 0.85;

/** A picture, small enough to wait on a telephone; as it came where the browser cannot read it. */
export async function smaller(file) {
  try {
    const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
    const share = Math.min(1, LONGER_PX / Math.max(bitmap.width, bitmap.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(bitmap.width * share));
    canvas.height = Math.max(1, Math.round(bitmap.height * share));
    canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    bitmap.close();
    const made = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
    return made ?? file;
  } catch {
    return file;
  }
}

/** The photos chosen in a form of a defect, as items that follow it in the queue. */
export async function photosOf(form, made, nowMs) {
  const chosen = [...(form.elements.photo?.files ?? [])];
  const { id, subject, occurred_at, text } = made.fact;
  const item = () => {
    const fact = { id: newId(nowMs), subject, defect: id, occurred_at, text };
    return { noun: "photos", fact, text: `photo to “${made.text}”` };
  };
  // A form that was posted and refused says which of its pictures the service has kept already.
  const kept = [...form.querySelectorAll("[name=picture]")].map((one) => named(item(), JSON.parse(one.value)));
  const items = [];
  for (const file of chosen) items.push({ ...item(), picture: await smaller(file) });
  return [...kept, ...items];
}

/** Whether an item's picture has still to be sent. */
export const hasPicture = (item) => item.picture !== undefined && item.fact.sha256 === undefined;

/** The item with what the service said of its picture. */
export function named(item, kept) {
  const { sha256, width_px, height_px, size_bytes, media_type } = kept;
  return { ...item, fact: { ...item.fact, sha256, width_px, height_px, size_bytes, media_type } };
}
