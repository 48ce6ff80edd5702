// A roster picked on the phone: read, bounded, and spelled as a request carries it.

const LARGEST = 1 << 20;

// Gives { name, content } with the content in base64; throws with a sentence for a person.
export async function picked(file) {
  if (!/\.(csv|xlsx)$/i.test(file.name)) throw new Error("A roster is a .csv or an .xlsx file.");
  if (file.size > LARGEST) throw new Error("A roster has at most 1 MiB.");
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return { name: file.name.slice(-200), content: btoa(text) };
}
