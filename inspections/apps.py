from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"

    def ready(self):
        from fleet.signals import wear_changed

        from .services.scheduling import on_wear_changed

        wear_changed.connect(on_wear_changed, dispatch_uid="inspections.reassess")
