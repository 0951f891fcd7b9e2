// Lists of mat numbers as people write them, read as fleet/parsing/number_lists.py and mat_lists.py read them: what is
// changed there is changed here, and tests/mat_list_cases.py is read by both.
const matList = (() => {
  const LONGEST_RANGE = 1000;
  const TO = new Set(["to", "-", "–", "—", "..", "...", "…", "bis", "through", "thru", "until", "till"]);
  const JOINING = new Set([
    "and", "und", "et", "or", "oder", "plus", "sowie", "also", "u.", "&", "+", "/", "|", "*", "•", "-", "–"]);
  const JOINING_LETTERS = new Set(["y", "e", "u"]);
  const MAT_WORDS = new Set([
    "mat", "mats", "matte", "matten", "no", "no.", "nr", "nr.", "number", "numbers", "nummer", "nummern",
    "from", "von", "the", "die", "between"]);
  const EXCEPT = new Set(["except", "but", "without", "not", "ohne", "ausser", "nicht", "sans", "excluding", "minus"]);
  const ALL = /^(?:all|alle|everything|alles|every)(?: (?:of )?(?:the |our )?(?:mats?|matten?|them|it))?$/;
  const LINES = /[\n\r\t]+/, PIECES = /[,;]+/;
  const NOTE = /\([^()]*\)|\[[^[\]]*\]|\{[^{}]*\}/g;
  const RANGE_SIGN = /–|—|\.{2,}|…|-/g;
  const LOOSE_DASH = /([\p{L}\p{N}_])(?:\s+([-–—]|\.{2,}|…)\s*(?=\d)|\s*([-–—]|\.{2,}|…)\s+(?=[\p{L}\p{N}_]))/gu;
  const DASHED = /^[-–—]|[-–—]$/;
  const JOINED = /(\d)[/&+](?=[\p{L}\p{N}_]*\d|[\p{L}_][-\p{L}\p{N}_]*\d)/gu;
  const NUMBERED = /^(.*?)(\d{1,9})$/s;
  const QUOTES = /^["'“”„‘’‚«»]+|["'“”„‘’‚«»]+$/g;

  const fold = (text) => text.toLowerCase().replace(/ß/g, "ss");
  const plain = (name) => fold(name.replace(/[‐‑–—−]/g, "-"));
  const ending = (name) => NUMBERED.exec(name);
  const split = (text) => text.split(/\s+/).filter(Boolean);
  const trimmed = (texts) => texts.map((text) => text.trim()).filter(Boolean);
  const hasDigit = (text) => /\p{Nd}/u.test(text);
  const takesAway = (text) => (fold(text).match(/[\p{L}\p{N}_]+/gu) || []).some((word) => EXCEPT.has(word));

  // which of these things, each with its number, a name stands for: `17` is M-017 where no mat is called by digits alone
  const finder = (things, numberOf) => {
    const grouped = (keyOf) => things.reduce((groups, thing) => {
      const key = keyOf(numberOf(thing));
      return key === null ? groups : groups.set(key, [...(groups.get(key) || []), thing]);
    }, new Map());
    const exact = new Map(things.map((thing) => [numberOf(thing), thing]));
    const alike = grouped(plain);
    const bare = things.some((thing) => /^\d{1,9}$/.test(numberOf(thing)));
    const byDigits = bare ? new Map() : grouped((number) => (ending(number) ? Number(ending(number)[2]) : null));
    return (name) => {
      const found = alike.get(plain(name)) || (/^\d{1,9}$/.test(name) && byDigits.get(Number(name))) || [];
      return exact.get(name) || (found.length === 1 ? found[0] : null);
    };
  };

  const rangeOf = (first, last) => {
    const [start, end] = [ending(first), ending(last)];
    if (!start || !end || ![plain(start[1]), ""].includes(plain(end[1]))) return null;
    const [from, to] = [Number(start[2]), Number(end[2])];
    if (to < from || to - from >= LONGEST_RANGE) return null;
    return Array.from({ length: to - from + 1 }, (_, at) => start[1] + String(from + at).padStart(start[2].length, "0"));
  };

  const bareWord = (word, find) => {
    const plainly = fold(word);
    if (find(word) || [TO, JOINING, MAT_WORDS].some((words) => words.has(plainly))) return word;
    return word.replace(QUOTES, "").replace(/^#/, "").replace(/[.:]+$/, "") || word;
  };
  const wordsOf = (piece, find) => {
    const asTyped = split(piece);
    const dashIsName = asTyped.some((word) => DASHED.test(word) && find(word));
    const loose = (_, before, one, other) => `${before} ${one || other} `;
    const words = dashIsName ? asTyped : split(piece.replace(LOOSE_DASH, loose));
    const apart = words.flatMap((word) => (find(word) ? [word] : split(word.replace(JOINED, "$1 "))));
    return apart.map((word) => bareWord(word, find));
  };

  const onlyJoins = (word, before, after) => {
    const plainly = fold(word);
    if (JOINING.has(plainly)) return true;
    if (JOINING_LETTERS.has(plainly)) return hasDigit(before || "") && hasDigit(after || "");
    return MAT_WORDS.has(plainly) && hasDigit(after || "");
  };
  const readWord = (word, find) => {
    if (find(word)) return { text: word, names: [word] };
    const signs = [...word.matchAll(RANGE_SIGN)];
    for (const sign of signs) {
      const names = rangeOf(word.slice(0, sign.index), word.slice(sign.index + sign[0].length));
      if (names) return { text: word, names };
    }
    return { text: word, names: signs.every((sign) => sign[0] === "-") ? [word] : [] };
  };
  const readWords = (words, find) => {
    const parts = [];
    for (let at = 0; at < words.length; at += 1) {
      const [word, sign, last] = words.slice(at, at + 3);
      if (last !== undefined && TO.has(fold(sign)) && !find(sign)) {
        parts.push({ text: `${word} to ${last}`, names: rangeOf(word, last) || [] });
        at += 2;
      } else if (find(word) || !onlyJoins(word, words[at - 1], sign)) parts.push(readWord(word, find));
    }
    return parts;
  };

  const partsOfPiece = (piece, find) => {
    if (find(piece)) return [{ text: piece, names: [piece] }];
    if (ALL.test(split(fold(piece)).join(" "))) return [{ text: piece, names: [], isAll: true }];
    const words = wordsOf(piece, find);
    if (takesAway(words.filter((word) => !find(word)).join(" "))) return [{ text: piece, names: [], takesAway: true }];
    return readWords(words, find);
  };
  const partsOfLine = (line, find, leftOut) => {
    if (find(line)) return [{ text: line, names: [line] }];
    const parts = [];
    const bare = line.replace(NOTE, (note) => {
      const isName = [note, ...line.split(PIECES)].some((piece) => piece.includes(note) && find(piece.trim()));
      if (isName) return note;
      if (takesAway(note) && hasDigit(note)) parts.push({ text: note, names: [], takesAway: true });
      else leftOut.push(note);
      return " ";
    });
    return [...parts, ...trimmed(bare.split(PIECES)).flatMap((piece) => partsOfPiece(piece, find))];
  };

  // Things found, words that name none, and notes; `last`: what stands last of it all. `excepting`: what says which are
  // not meant; then none is found. `all` gives the things that *all* stands for.
  const read = (text, find, all) => {
    const leftOut = [];
    const parts = trimmed(text.split(LINES)).flatMap((line) => partsOfLine(line, find, leftOut));
    const excepting = parts.filter((part) => part.takesAway).map((part) => part.text);
    const last = parts.at(-1)?.text;
    if (excepting.length) return { found: [], unknown: [...new Set(excepting)], leftOut, excepting, last };
    const [found, unknown] = [new Set(), new Set()];
    for (const part of parts) {
      const named = part.isAll ? all() : part.names.filter(find).map(find);
      named.forEach((thing) => found.add(thing));
      if (!named.length) unknown.add(part.text);
      else if (!part.isAll) part.names.filter((name) => !find(name)).forEach((name) => unknown.add(name));
    }
    return { found: [...found], unknown: [...unknown], leftOut, excepting, last };
  };

  return { ending, finder, plain, read };
})();
