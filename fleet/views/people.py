"""Accounts: the list, one account and what a keeper may do with it, and everybody's own password."""

from functools import partial

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.views import PasswordChangeView
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_POST

from ..access import KEEP
from ..forms.people import AccountForm, OwnPasswordForm, PasswordChangeForm, PersonForm, RoleChangeForm
from ..selectors.log_links import links_known_to
from ..selectors.people import account_mark, changes_of, get_person_or_404, passwords_known_to, people
from ..selectors.sign_in_tries import last_tries, waits_lately
from ..services.people import (
    add_person,
    change_own_password,
    change_role,
    deactivate,
    reactivate,
    set_password,
)
from ..tables.people import AccountChangeTable, PeopleTable, SignInTryTable
from .pages import FEW_PER_PAGE, form_page, in_pages, list_page, say_refusal, submit
from .permissions import may_keep, not_by_link
from .sessions import session_table
from .sign_in import asked_to_wait, remember_browser


@may_keep
def people_list(request):
    return list_page(request, "fleet/people.html", PeopleTable(people()), waits=waits_lately(timezone.now()))


@may_keep
def person_add(request):
    form = PersonForm(request.POST or None)
    person = submit(request, form, partial(add_person, by=request.user))
    if person is not None:
        messages.success(request, f"{person} may sign in now, as {form.cleaned_data['role']}.")
        return redirect("fleet:people")
    return form_page(request, "fleet/person_add.html", form)


@may_keep
def person(request, name):
    return _show(request, get_person_or_404(name))


@may_keep
@require_POST
def person_role(request, name):
    person, form = get_person_or_404(name), RoleChangeForm(request.POST)
    if submit(request, form, partial(change_role, person, by=request.user), row=person) is None:
        return _show(request, person, role_form=form)
    role = form.cleaned_data["role"]
    messages.success(request, f"{person} is {role} now.{_still_in_by(person)}")
    gave_up_own = person == request.user and role != KEEP
    return redirect(settings.LOGIN_REDIRECT_URL if gave_up_own else _address(person))


@may_keep
@require_POST
def person_password(request, name):
    person, form = get_person_or_404(name), PasswordChangeForm(request.POST)
    if submit(request, form, partial(set_password, person, by=request.user), row=person) is None:
        if person == request.user:
            say_refusal(request, form)
            return redirect("fleet:own-password")
        return _show(request, person, password_form=form)
    messages.success(
        request,
        f"{person} has a new password. Give it to them in person, and ask them to change it.{_still_in_by(person)}",
    )
    return redirect(_address(person))


@may_keep
@require_POST
def person_deactivate(request, name):
    person = get_person_or_404(name)
    said = f"{person} can no longer sign in. Records keep the name.{_still_in_by(person)}"
    return _press(request, person, partial(deactivate, person, by=request.user), said)


@may_keep
@require_POST
def person_reactivate(request, name):
    person = get_person_or_404(name)
    return _press(request, person, partial(reactivate, person, by=request.user), f"{person} may sign in again.")


def _press(request, person, act, said):
    form = AccountForm(request.POST)
    if submit(request, form, act, row=person) is None:
        say_refusal(request, form)
    else:
        messages.success(request, said)
    return redirect(_address(person))


def _known_to(person):
    """Ways into the pool that do not end with what is done to their own account."""
    links = links_known_to(person, timezone.localdate())
    return {"known_links": links, "known_passwords": passwords_known_to(person)}


def _still_in_by(person):
    return " But look below: they know other ways in." if any(_known_to(person).values()) else ""


def _address(person):
    return reverse("fleet:person", args=[person.username])


def _show(request, person, **refused):
    person = get_person_or_404(person.username)
    forms = {"role_form": RoleChangeForm(initial={"role": person.role}), "password_form": PasswordChangeForm()}
    for form in forms.values():
        form.look_at(person)
    context = {"person": person, "mark": account_mark(person)} | forms | refused
    if person != request.user:
        context |= {"sessions": session_table(request, person)} | _known_to(person)
    context["tries"] = SignInTryTable(last_tries(person))
    context["changes"] = in_pages(request, AccountChangeTable(changes_of(person)), FEW_PER_PAGE)
    return render(request, "fleet/person.html", context, status=422 if refused else 200)


@method_decorator(not_by_link, name="dispatch")
class OwnPassword(PasswordChangeView):
    """Everybody's own password, and where they are signed in; the session goes on."""

    form_class = OwnPasswordForm
    template_name = "fleet/own_password.html"

    def get_form_kwargs(self):
        asked = {"address": self.request.META.get("REMOTE_ADDR", ""), "now": timezone.now()}
        return super().get_form_kwargs() | asked

    def form_valid(self, form):
        user = self.request.user
        change_own_password(user, form.cleaned_data["new_password1"])
        update_session_auth_hash(self.request, user)
        messages.success(self.request, "Your password is changed.")
        return remember_browser(self.request, redirect(self.request.path), user)

    def get_context_data(self, **context):
        return super().get_context_data(sessions=session_table(self.request, self.request.user), **context)

    def form_invalid(self, form):
        return asked_to_wait(self.render_to_response(self.get_context_data(form=form), status=422), form)
