"""The page of *Start here*: kinds of mat, each with its groups, read together and shown before they are stored."""

import hashlib
import re
from dataclasses import dataclass

from django import forms
from django.core.exceptions import ValidationError

from ..models.fields import code_key
from ..parsing.counts import counted
from ..services.start_here import refuse_known
from .start_here import MOST_MATS, GroupForm, KindForm
from .submissions import OnceForm

MOST_CABLES = 20_000
MOST_KINDS, MOST_GROUPS = 12, 12
PROPOSE, MORE_GROUPS, MORE_KINDS, BACK = "propose", "more_groups", "more_kinds", "back"
ACTS = (PROPOSE, MORE_GROUPS, MORE_KINDS, BACK)
# what another kind of mat has from the one above it until somebody types over it
CARRIED_OVER = ("times_a_year",)


@dataclass(frozen=True)
class Kind:
    """The forms of one kind of mat."""

    number: int
    form: KindForm
    groups: list[GroupForm]

    @property
    def is_blank(self):
        """Added by a tap, and nothing typed into it."""
        typed = [self.form[name].value() for name in ("width_m", "cables", "lengths_m")]
        return not any(typed) and all(_is_blank(group) for group in self.groups)

    @property
    def told(self):
        """Its groups without those that were added and left empty."""
        return [group for at, group in enumerate(self.groups) if at == 0 or not _is_blank(group)]


def _is_blank(group):
    return not any((group[name].value() or "").strip() for name in ("mats", "when"))


def _prefix(kind, group=1):
    parts = ([f"kind{kind}"] if kind > 1 else []) + ([f"group{group}"] if group > 1 else [])
    return "-".join(parts) or None


class StartForm(OnceForm):
    """All kinds and groups of the page. `begins_with`: what the first kind says before anything is typed."""

    # how many groups each kind has, in turn
    shape = forms.CharField(required=False, widget=forms.HiddenInput)
    # stands for the mats as they were shown before they are stored
    understood = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data=None, *, on, begins_with=None, shape=None, **kwargs):
        super().__init__(data, **kwargs)
        self.on = on
        self.shape = shape or _read_shape(data.get("shape", "") if data is not None else "")
        self.initial["shape"] = " ".join(map(str, self.shape))
        self.kinds = [self._kind(number, groups, begins_with) for number, groups in enumerate(self.shape, 1)]

    def _kind(self, number, groups, begins_with):
        data = self.data if self.is_bound else None
        begins_with = begins_with if number == 1 else None
        form = KindForm(data, prefix=_prefix(number), initial=begins_with)
        form.about = f"Kind {number}: " if number > 1 else ""
        return Kind(
            number,
            form,
            [GroupForm(data, on=self.on, prefix=_prefix(number, group)) for group in range(1, groups + 1)],
        )

    def full_clean(self):
        """What the page itself says is no answer: where it cannot be read it says nothing."""
        super().full_clean()
        for name in ("shape", "understood"):
            self._errors.pop(name, None)

    @property
    def told(self):
        """The kinds without those that were added and left empty."""
        return [kind for kind in self.kinds if kind.number == 1 or not kind.is_blank]

    @property
    def has_several(self):
        return len(self.kinds) > 1

    @property
    def parts(self):
        """The smaller forms that count; those of a page without answers cannot be judged."""
        return [form for kind in self.told for form in (kind.form, *kind.told)]

    @property
    def wrong(self):
        """How many answers need a second look."""
        return len(self.errors) + sum(len(part.errors) for part in self.parts)

    def is_valid(self):
        valid = [super().is_valid(), *(part.is_valid() for part in self.parts)]
        if self.is_bound:
            self._refuse_twice_and_known()
            self._refuse_too_many()
        return all(valid) and not self.wrong

    def _refuse_twice_and_known(self):
        seen = set()
        for group in (group for kind in self.told for group in kind.told):
            twice = [number for number in group.numbers if code_key(number) in seen]
            seen.update(map(code_key, group.numbers))
            if twice:
                group.add_error("mats", f"Named above already: {', '.join(twice[:10])}. Leave them out here.")
            try:
                refuse_known(group.numbers)
            except ValidationError as known:
                group.add_error(None, known)

    def _refuse_too_many(self):
        kinds = [(kind, sum(len(group.numbers) for group in kind.told)) for kind in self.told]
        mats = sum(count for _, count in kinds)
        if mats > MOST_MATS:
            self.add_error(None, f"{mats:,} mats: {MOST_MATS:,} at a time, or load them as files.")
        if sum(count * kind.form.cleaned_data.get("cables", 0) for kind, count in kinds) > MOST_CABLES:
            self.add_error(None, f"More than {MOST_CABLES:,} cables at a time: load them as files.")

    # what is pressed beside the button that stores

    @property
    def act(self):
        """(what was pressed, of which kind); None where it was the button of the form itself."""
        for name in ACTS:
            if name in self.data:
                number = self.data[name]
                return name, int(number) if re.fullmatch(r"[1-9]\d?", number) else 1
        return None

    def after(self, act):
        """The same page with all that was typed, not yet sent, after what was pressed."""
        name, number = act
        kind = self.kinds[min(number, len(self.kinds)) - 1]
        fresh = type(self)(on=self.on, shape=self._shape_after(name, kind), initial=self.data.dict())
        for part in fresh.all_parts:
            part.initial = _typed(self.data, part)
        if name == PROPOSE:
            fresh._spell_out(kind)
        elif name == MORE_KINDS and len(fresh.kinds) > len(self.kinds):
            added = fresh.kinds[-1]
            added.form.initial = {
                name: value for name, value in _typed(self.data, self.kinds[-1].form).items() if name in CARRIED_OVER
            }
            _begin_at(added.form, "width_m")
        elif name == MORE_GROUPS:
            _begin_at(fresh.kinds[kind.number - 1].groups[-1], "mats")
        return fresh

    @property
    def all_parts(self):
        return [form for kind in self.kinds for form in (kind.form, *kind.groups)]

    def _shape_after(self, name, kind):
        shape = list(self.shape)
        if name == MORE_GROUPS and shape[kind.number - 1] < MOST_GROUPS:
            shape[kind.number - 1] += 1
        if name == MORE_KINDS and len(shape) < MOST_KINDS:
            shape.append(1)
        return shape

    def _spell_out(self, sent):
        """The lengths in between, in place; where they cannot be read, what is wrong with them and nothing else."""
        kind = self.kinds[sent.number - 1]
        if sent.form.only_of_lengths():
            kind.form.initial |= sent.form.spelled_out
        else:
            self.kinds[sent.number - 1] = Kind(sent.number, sent.form, kind.groups)
        _begin_at(self.kinds[sent.number - 1].form, "lengths_m")

    # what is shown before it is stored

    @property
    def told_groups(self):
        """(kind's form, group's form, MatGroup) of each group that was told."""
        return [(kind.form, group, group.group(kind.form.build)) for kind in self.told for group in kind.told]

    @property
    def groups(self):
        return [group for _, _, group in self.told_groups]

    @property
    def mark(self):
        """Stands for exactly the mats that are to be stored."""
        told = [sorted((name, str(value)) for name, value in vars(group).items()) for group in self.groups]
        return hashlib.sha256(repr(told).encode()).hexdigest()[:16]

    @property
    def is_understood(self):
        return self.cleaned_data.get("understood") == self.mark

    @property
    def in_words(self):
        """14 mats with 96 cables."""
        mats = sum(len(group.numbers) for group in self.groups)
        cables = sum(len(group.numbers) * len(group.lengths_m) for group in self.groups)
        return f"{counted(mats, 'mat')} with {counted(cables, 'cable')}"

    @property
    def typed(self):
        """(name, value) of all that was typed, to be sent again."""
        own = [name for name in self.fields if name != "understood"]
        forms_and_names = [(self, own), *((part, part.fields) for part in self.all_parts)]
        pairs = [(form.add_prefix(name), form[name].value()) for form, names in forms_and_names for name in names]
        return [(name, _sent(value)) for name, value in pairs if value not in (None, False, "")]

    @property
    def act_values(self):
        return {"groups": self.groups}


def _sent(value):
    return "on" if value is True else value


def _read_shape(text):
    counts = [int(word) for word in text.split() if re.fullmatch(r"[1-9]\d?", word)]
    return [min(count, MOST_GROUPS) for count in counts[:MOST_KINDS]] or [1]


def _typed(data, form):
    return {name: data[form.add_prefix(name)] for name in form.fields if form.add_prefix(name) in data}


def _begin_at(form, name):
    form.fields[name].widget.attrs["autofocus"] = True
