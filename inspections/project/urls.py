"""All addresses. `inspections` stands first: where both apps name a path, its composed page wins."""

from django.contrib.auth import views as accounts
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path

from fleet.views.first_account import first_account, first_account_first

from .resubmission import SignIn

urlpatterns = [
    path("sign-in/", login_not_required(first_account_first(SignIn.as_view())), name="sign-in"),
    path("first-account/", first_account, name="first-account"),
    path("sign-out/", accounts.LogoutView.as_view(), name="sign-out"),
    path("", include("inspections.urls")),
    path("", include("fleet.urls")),
]
handler400 = "inspections.project.storage_errors.not_understood"
handler500 = "inspections.project.storage_errors.failure"
