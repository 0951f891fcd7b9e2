"""What a browser says of itself, in the words by which people know it. Anybody can say anything: a hint, no proof."""

UNKNOWN = "a browser"
# the first that is named counts: most name those that they want to be taken for as well
BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("Chrome/", "Chrome"),
    ("CriOS/", "Chrome"),
    ("Safari/", "Safari"),
)
SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("CrOS", "ChromeOS"),
    ("Windows", "Windows"),
    ("Macintosh", "Mac"),
    ("Linux", "Linux"),
)


def device_words(user_agent):
    """`Firefox on Android`, of a browser's User-Agent line; what is not known is left out."""
    browser, system = _named(user_agent, BROWSERS), _named(user_agent, SYSTEMS)
    return f"{browser or UNKNOWN} on {system}" if system else browser or UNKNOWN


def _named(text, names):
    return next((word for mark, word in names if mark in text), "")
