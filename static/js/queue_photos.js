// Makes photos small on the phone, about as small as the pool keeps them: a line in the field may take a minute for one.
const queuePhotos = (() => {
  const LONGEST_SIDE = 1600, QUALITY = 0.85, SMALL_BYTES = 300_000;

  const writtenFrom = (canvas) => new Promise((done) => { canvas.toBlob(done, "image/jpeg", QUALITY); });

  // some browsers give back noise, so that nobody is known again by what they draw
  const givesBackNoise = (pen) => {
    pen.fillRect(0, 0, 8, 8);
    return [...pen.getImageData(0, 0, 8, 8).data].some((value) => value !== 255);
  };

  // upright, as the browser shows it, and on white
  const drawn = (picture) => {
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    const [width, height] = [picture.width, picture.height].map((side) => Math.max(1, Math.round(side * scale)));
    const canvas = Object.assign(document.createElement("canvas"), { width, height });
    const pen = canvas.getContext("2d", { alpha: false });
    pen.fillStyle = "#fff";
    if (width >= 8 && height >= 8 && givesBackNoise(pen)) throw new Error("cannot be drawn");
    pen.fillRect(0, 0, width, height);
    pen.drawImage(picture, 0, 0, width, height);
    return canvas;
  };

  const smallOne = async (file) => {
    if (file.size <= SMALL_BYTES) return file;
    try {
      const picture = await createImageBitmap(file);
      const small = await writtenFrom(drawn(picture));
      picture.close();
      return small && small.size < file.size ? new File([small], file.name, { type: small.type }) : file;
    } catch {
      // what no browser can draw, the pool judges
      return file;
    }
  };

  // Fields with their files made small, one after the other: several large ones at once may be too much for a phone.
  const smaller = async (fields) => {
    const small = [];
    for (const [name, value, ...rest] of fields) small.push([name, typeof value === "string" ? value : await smallOne(value), ...rest]);
    return small;
  };

  const among = (fields) => fields.some(([, value]) => typeof value !== "string");

  return { smaller, among };
})();
