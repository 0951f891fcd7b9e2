from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"

    def ready(self):
        from django.core.signals import request_finished
        from django.db.models.signals import post_migrate

        from fleet.models.row_numbers import keep_numbers
        from fleet.signals import correction_begins, doubt_asked, unfit_asked, wear_changed

        from .assessment.moves import on_correction
        from .assessment.services import on_doubt_asked, on_unfit_asked, on_wear_changed
        from .backup.daily import back_up_when_due
        from .workshop.sign_off_services import answer_lines

        post_migrate.connect(keep_numbers, sender=self, dispatch_uid="inspections.keep_numbers")
        correction_begins.connect(on_correction, dispatch_uid="inspections.moves")
        doubt_asked.connect(on_doubt_asked, dispatch_uid="inspections.doubt")
        unfit_asked.connect(on_unfit_asked, dispatch_uid="inspections.unfit")
        wear_changed.connect(on_wear_changed, dispatch_uid="inspections.reassess")
        wear_changed.connect(answer_lines, dispatch_uid="inspections.answer_lines")
        request_finished.connect(back_up_when_due, dispatch_uid="inspections.daily_copy")
