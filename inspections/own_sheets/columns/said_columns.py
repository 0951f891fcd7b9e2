"""What is said of a column in one word: a field, that it is kept as a note, or that it is left out."""

from ..meanings import FIELD_WORDS, FIELDS, ColumnMeaning

LEFT_OUT, AS_NOTE = "", "as note"
_ANYHOW = [(LEFT_OUT, "– left out"), (AS_NOTE, "kept as a note, with its heading")]


def choices_of(kind):
    """What a column of this kind of sheet may say, as choices of a form."""
    return [*_ANYHOW, *((name, FIELD_WORDS[name]) for name in FIELDS[kind])]


def said_of(meaning, column):
    """The word for a ShownColumn."""
    said = next((each for each in meaning.columns if each.index == column.indexes[0]), None)
    return LEFT_OUT if said is None else said.field or (AS_NOTE if said.note else LEFT_OUT)


def columns_said(columns, words):
    """The ColumnMeanings of ShownColumns of which these words are said."""
    said = [(column, word) for column, word in zip(columns, words, strict=True) if word]
    return tuple(_meaning(index, word) for column, word in said for index in column.indexes)


def _meaning(index, word):
    return ColumnMeaning(index, note=True) if word == AS_NOTE else ColumnMeaning(index, word)
