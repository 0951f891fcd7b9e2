"""Addresses of the register and the log, grouped by what they are about."""

from django.urls import path

from .views import event_log, events

app_name = "fleet"
urlpatterns = [
    path("events/", events.event_list, name="event-list"),
    path("events/log/", event_log.event_log, name="event-log"),
    path("events/add/", events.event_add, name="event-add"),
    path("events/<str:code>/", events.event_detail, name="event-detail"),
    path("events/<str:code>/answer/", events.event_answer, name="event-answer"),
    path("events/<str:code>/correct/", events.event_correct, name="event-correct"),
    path("events/<str:code>/mats/<str:number>/", events.usage_correct, name="usage-correct"),
    path("events/<str:code>/mats/<str:number>/call-off/", events.usage_call_off, name="usage-call-off"),
]
