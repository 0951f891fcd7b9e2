"""Words that people write above their columns, English and German, and which field each stands for.

To teach the app a heading, add it to the line of its field: in small letters, without brackets and signs. A heading
may stand in several lines: the kind of the sheet, and what stands in the cells, tell which is meant.
"""

import re
from collections import defaultdict
from functools import lru_cache

HEADINGS = """
mat: mat, mats, mat no, mat nr, mat number, mat id, mat name, no, nr, number, #, id, label, matte, matten, matte nr,
  matten nr, mattennr, mattennummer, nummer, lfd nr, laufnummer, kennung, antenna, antenne
build: build, design, type, mat type, model, size, pattern, layout, bauart, bauform, typ, mattentyp, modell, art,
  ausführung, größe
width: width, width m, mat width, how wide, wide, breite, mattenbreite
cables: cables, number of cables, how many cables, no of cables, segments, kabel, anzahl kabel, kabelanzahl,
  kabelzahl, wie viele kabel
lengths: lengths, cable lengths, lengths of cables, längen, kabellängen
cable type: cable type, type of cable, coax, coax type, type, kabeltyp, kabelart, koax, koaxkabel, typ
depot: depot, store, stored at, stored in, storage, location, base, home, where, warehouse, shelf, lager, lagerort,
  standort, ort, wo, steht in
owner: owner, owned by, belongs to, property of, eigentümer, besitzer, eigner, gehört, gehört zu, eigentum von
acquired: bought, acquired, purchased, bought on, date bought, purchase date, date of purchase, purchase, acquired
  on, got, since, in service since, in use since, delivered, year, year bought, new, built, gekauft, gekauft am,
  kauf, kaufdatum, angeschafft, angeschafft am, anschaffung, anschaffungsdatum, anschaffungsjahr, baujahr, jahr,
  beschafft, in betrieb seit, im einsatz seit, seit, zugang
withdrawn: withdrawn, withdrawn on, retired, scrapped, out of use, taken out of use, taken out, gone, disposed of,
  thrown away, sold, ausgemustert, ausgemustert am, außer betrieb, außer dienst, stillgelegt, verschrottet, abgang,
  verkauft
withdrawal reason: withdrawal reason, reason, why, why scrapped, why withdrawn, grund, ausmusterungsgrund, warum
cables changed: cables last changed, cables changed, last changed, last change, changed, cables new, new cables,
  cables renewed, cables replaced, cables since, recabled, rewired, last recabled, last service, last refit, cable
  change, kabel gewechselt, kabel zuletzt gewechselt, kabelwechsel, letzter kabelwechsel, kabel erneuert, kabel neu,
  neue kabel, letzter wechsel, gewechselt, kabel von, kabel seit
note: note, notes, remark, remarks, comment, comments, anything else, bemerkung, bemerkungen, notiz, notizen,
  anmerkung, anmerkungen, kommentar, hinweis, hinweise, sonstiges
segment: serial, serial no, serial number, s/n, sn, cable, cable no, cable nr, cable id, cable number, cable serial,
  segment, no, nr, number, kabel, kabelnummer, kabel nr, kabelnr, seriennummer, serien nr, seriennr, nummer
position: position, pos, place, slot, place in mat, position in mat, platz, stelle, kabelplatz, no in mat, cable,
  cable no, cable nr, cable number, kabel, kabel nr, kabelnr, kabelnummer
length: length, length m, len, cable length, how long, länge, kabellänge
lot: lot, batch, los, charge, lieferung
fitted: fitted, fitted on, installed, installed on, date fitted, in since, put in, in, since, new since, changed,
  last changed, mounted, date, eingebaut, eingebaut am, einbau, einbaudatum, verbaut, verbaut am, seit, gewechselt,
  datum
removed: removed, removed on, taken out, out, date out, ausgebaut, ausgebaut am, ausbau, ausbaudatum
as-new loss: loss when new, as new loss, as new loss db, loss new, new loss, initial loss, dämpfung neu, neuwert,
  anfangsdämpfung, dämpfung im neuzustand
event: event, race, run, name, title, what, occasion, job, name of event, event name, race name, veranstaltung,
  rennen, lauf, anlass, wettkampf, einsatz, name der veranstaltung, bezeichnung
code: code, event code, event no, event nr, event id, kürzel, veranstaltungsnummer
starts: date, day, on, start, starts, starts on, start date, first day, from, out, out on, when, race day, event
  date, datum, tag, am, wann, beginn, von, ausgabe, raus, veranstaltungstag
ends: end, ends, ends on, end date, last day, to, until, till, back, back on, returned, ende, bis, rückgabe, zurück,
  letzter tag
place: place, where, venue, town, location, city, ort, wo, stadt, strecke, veranstaltungsort
weather: weather, conditions, wetter, witterung
wet: wet, rain, rained, was it wet, nass, regen, geregnet
mats: mats, mats used, mats taken, mats out, which mats, mat numbers, mat nos, mats no, list of mats, matten,
  eingesetzte matten, welche matten, mattennummern, matten nr
state: state, status, went, zustand, stattgefunden
counts for: counts for, times, times used, how often, uses, races, no of races, wie oft, einsätze, läufe
day: date, day, measured, measured on, date measured, tested, tested on, test date, when, checked, datum, tag,
  gemessen, gemessen am, messdatum, messtag, wann, geprüft am, prüfdatum
loss: loss, loss db, db, insertion loss, attenuation, reading, measured loss, value, result, measured, s21,
  dämpfung, kabeldämpfung, einfügedämpfung, verlust, messwert, wert, ergebnis
repeat: repeat, repetition, again, wiederholung, durchgang
frequency: frequency, freq, mhz, frequency mhz, at mhz, frequenz
temperature: temperature, temp, temperature c, °c, temperatur
instrument: instrument, meter, analyser, analyzer, measured with, tester, gerät, messgerät, gemessen mit
measured by: measured by, tested by, by, who, operator, checked by, gemessen von, geprüft von, von, wer, prüfer
"""
# rows at the foot that sum up, and sheets that do, by their names
TOTALS = """
total totals sum sums average mean count overall summe gesamt gesamtsumme insgesamt mittel mittelwert durchschnitt
anzahl zusammen
"""
SUMMARIES = """
summary overview totals statistics stats dashboard report chart charts lists lookup settings help zusammenfassung
übersicht auswertung statistik diagramm hilfe listen einstellungen
"""
_TOTALS, _SUMMARIES = (frozenset(words.split()) for words in (TOTALS, SUMMARIES))
_UNIT = re.compile(r"[(\[][^)\]]*[)\]]")
_SIGNS = re.compile(r"[_.:,;?!*“”\"'\-–\0]+")
_EXACT, _WITHIN = 1.0, 0.6
_LONGEST, _SHORTEST_PART = 60, 3


def _by_first_word():
    """{first word: [(words of a heading, its field)]}."""
    found = defaultdict(list)
    for line in HEADINGS.strip().casefold().replace("\n  ", " ").splitlines():
        name, _, headings = line.partition(": ")
        for heading in headings.split(", "):
            words = heading.split()
            found[words[0]].append((words, name))
    return found


_KNOWN = _by_first_word()


def plain_heading(text):
    """A heading in small letters, without brackets, signs and doubled blanks."""
    bare = _SIGNS.sub(" ", _UNIT.sub(" ", text[: 2 * _LONGEST].casefold()))
    return " ".join(bare.split()) or " ".join(text[: 2 * _LONGEST].casefold().strip("()[] ").split())


@lru_cache(maxsize=4096)
def heading_fits(heading):
    """{field: how well a plain heading names it}: 1 as one of its words, less where one is a part of it."""
    words, fits = heading.split(), {}
    if len(heading) > _LONGEST:
        return fits
    for at, first in enumerate(words):
        for known, name in _KNOWN.get(first, ()):
            if words[at : at + len(known)] == known:
                fits[name] = max(fits.get(name, 0), _fit(" ".join(known), heading))
    return fits


def _fit(known, heading):
    if known == heading:
        return _EXACT
    return _WITHIN * len(known) / len(heading) if len(known) >= _SHORTEST_PART else 0


def sums_up(heading):
    """Whether a plain heading says that its row sums up those above."""
    return heading in _TOTALS or heading.split()[:1] in (["total"], ["gesamt"])


def is_summary(heading):
    """Whether a plain heading is the name of a sheet that sums up others."""
    return not _SUMMARIES.isdisjoint(heading.split())
