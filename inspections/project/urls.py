"""All addresses. `inspections` stands first: where both apps name a path, its composed page wins."""

from django.contrib.auth import views as accounts
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path

from fleet.views.first_account import first_account, first_account_first
from fleet.views.log_links import open_link
from inspections.calendar.feed_views import feed
from inspections.demo.forms import CarefulSignInForm

from .resubmission import SignIn
from .storage_errors import failure, not_understood
from .unreadable_requests import forbidden, not_found, whatever_was_sent

urlpatterns = [
    path(
        "sign-in/",
        login_not_required(first_account_first(SignIn.as_view(form_class=CarefulSignInForm))),
        name="sign-in",
    ),
    path("first-account/", first_account, name="first-account"),
    path("phone/<str:secret>/", open_link, name="sign-in-by-link"),
    path("calendar/feed/<str:secret>.ics", feed, name="calendar-feed"),
    path("sign-out/", accounts.LogoutView.as_view(), name="sign-out"),
    path("", include("inspections.urls")),
    path("", include("fleet.urls")),
]
handler400, handler500 = whatever_was_sent(not_understood), whatever_was_sent(failure)
handler403, handler404 = forbidden, not_found
