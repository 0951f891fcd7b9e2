"""Short words of people's lists, English and German: a tick, the weather, whether a mat went, that nobody knows.

Each list is one table; a word more is one entry more.
"""

import re

from ..choices import UsageState, Weather

YES = {"yes", "y", "x", "xx", "✓", "✔", "☑", "true", "1", "ja", "j", "ok", "done", "•", "*", "wahr", "o.k."}
NO = {"no", "n", "false", "0", "nein", "-", "–", "—", "☐", "falsch", "✘"}
NOT_KNOWN = {"", "?", "??", "-", "–", "—", "/", ".", "n/a", "na", "n.a.", "tbc", "tbd", "unknown", "not known", "none"}
NOT_KNOWN |= {"unbekannt", "k.a.", "keine angabe", "nicht bekannt", "no idea", "don't know", "weiß nicht", "..."}
# what most people mean by a wet day; damp, rain and snow count alike
WET = Weather.RAIN
_WEATHER = {
    Weather.DRY: "dry trocken sun sunny sonne sonnig clear fine heiter cloudy bewölkt overcast warm hot heiß indoor",
    Weather.DAMP: "damp feucht fog foggy nebel mist misty dew tau drizzle niesel drizzly nieselregen klamm moist humid",
    Weather.RAIN: "rain rainy regen regnerisch wet nass showers shower schauer storm gewitter mud muddy matsch pouring",
    Weather.SNOW: "snow snowy schnee sleet schneeregen schneefall",
}
_WEATHER_OF = {word: weather for weather, words in _WEATHER.items() for word in words.split()}
# the wettest that is named counts: a day of sun and showers is a wet one
_WETTEST = (Weather.SNOW, Weather.RAIN, Weather.DAMP, Weather.DRY)
_STATES = {
    UsageState.CALLED_OFF: "called off,cancelled,canceled,cancel,off,abgesagt,ausgefallen,entfallen,storniert",
    UsageState.PLANNED: "planned,plan,booked,reserved,tentative,geplant,gebucht,reserviert,vorgesehen,open,offen",
    UsageState.WENT: "went,done,held,took place,over,finished,ok,yes,x,✓,✔,ja,used,gelaufen,erledigt,war,stattgefunden",
}
_STATE_OF = {word: state for state, words in _STATES.items() for word in words.split(",")}
_WORDS = re.compile(r"[^\W\d_]+")


def plain(text):
    """Without capitals and more than one blank."""
    return " ".join(text.casefold().split())


def says_nothing(text):
    """An empty cell, or one that says that nobody knows."""
    return plain(text).strip("()") in NOT_KNOWN


def read_yes_no(text):
    """True, False; ValueError for what is neither. An empty text is no."""
    word = plain(text).rstrip("!.")
    if word in YES:
        return True
    if word in NO or says_nothing(text):
        return False
    raise ValueError("write yes or no, or leave it empty")


def read_weather(text):
    """The Weather that a text names, of several the wettest; "" for nothing said; ValueError where it names none."""
    if says_nothing(text):
        return ""
    named = {_WEATHER_OF[word] for word in _WORDS.findall(text.casefold()) if word in _WEATHER_OF}
    if not named:
        raise ValueError(f"write {', '.join(Weather.values)}, or leave it empty")
    return next(weather for weather in _WETTEST if weather in named)


def read_state(text):
    """The UsageState that a text names; None for nothing said; ValueError where it names none."""
    if says_nothing(text):
        return None
    word = plain(text).rstrip("!.")
    if word in NO:
        return UsageState.CALLED_OFF
    if word not in _STATE_OF:
        raise ValueError(f"write {', '.join(UsageState.values)}, or leave it empty")
    return _STATE_OF[word]
