/** Longest side of a kept photo, px, and how hard it is pressed: about 100 KB, enough to read a gauge by. */
const MOST_PX = 1024;
const QUALITY = 0.6;
/** The server's limit, in letters of base64. */
const MOST_LETTERS = 400_000;

/** A photo from the camera, made small, as base64 of a JPEG. @throws {Error} for a file that is no picture. */
export async function smallPhoto(file: Blob): Promise<string> {
  const picture = await createImageBitmap(file);
  for (const [mostPx, quality] of [[MOST_PX, QUALITY], [800, 0.5], [500, 0.4]] as const) {
    const scale = Math.min(1, mostPx / Math.max(picture.width, picture.height));
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const base64 = canvas.toDataURL('image/jpeg', quality).split(',')[1] ?? '';
    if (base64.length > 0 && base64.length <= MOST_LETTERS) return base64;
  }
  throw new Error('this picture could not be made small enough');
}
