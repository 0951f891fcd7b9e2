from datetime import date

from django.urls import path, register_converter

from .backup import restore_views as restores
from .backup import views as copies
from .batches import views as batches
from .bench import guide_views as guide
from .bench import moving_views as moving
from .bench import reading_views as readings
from .bench import views as bench
from .bench.days import said_views as said
from .bench.days import views as bench_days
from .bench.instruments import views as instruments
from .bench.pieces import views as pieces
from .buying import views as buying
from .calendar import feed_views as feeds
from .calendar import views as calendar
from .deleting import load_views
from .deleting import views as deleting
from .due import views as due
from .files import views as files
from .labels import views as labels
from .length_limits import use_views as used_limits
from .length_limits import views as length_limits
from .limit_card import views as limit_card
from .own_sheets.columns import views as sheets
from .own_sheets.made import made_views as made
from .pages.find import views as find
from .pages.glossary import views as glossary
from .pages.mat import views as mats
from .pages.mats import views as mat_lists
from .pages.season import views as season
from .pages.segment import views as segments
from .pages.today import views as today
from .policy import views as policy
from .pool_life import views as pool_life
from .records import views as records
from .rule_cost import views as rule_cost
from .rule_trial import views as rule_trial
from .sampling import views as samples
from .start import views as start
from .sweeps import views as sweeps
from .trend import views as pool
from .workshop import bulk_views as bulk
from .workshop import change_views as changes
from .workshop import shelf_views as shelf
from .workshop import sign_off_views as sign_off
from .workshop import views as work_orders


class CodeConverter:
    """A code in an address; `add` is left to the page of fleet that adds one."""

    regex = "(?!add/)[^/]+"

    def to_python(self, value):
        return value

    def to_url(self, value):
        return value


class DayConverter:
    """A calendar day in an address, as ISO writes it."""

    regex = "[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value):
        return date.fromisoformat(value)

    def to_url(self, value):
        return value.isoformat()


register_converter(CodeConverter, "code")
register_converter(DayConverter, "day")

app_name = "inspections"
urlpatterns = [
    path("", today.first_page, name="today"),
    path("start/", start.start_here, name="start"),
    path("start/answer/", start.answer, name="start-answer"),
    path("renamed-codes/seen/", today.renamed_codes_seen, name="renamed-codes-seen"),
    path("calendar/", calendar.calendar, name="calendar"),
    path("calendar/week/", calendar.week, name="calendar-week"),
    path("calendar/work-days/", calendar.work_days, name="work-days"),
    path("calendar/file.ics", feeds.download, name="calendar-file"),
    path("calendar/address/", feeds.address, name="calendar-address"),
    path("calendar/address/end/", feeds.end, name="calendar-address-end"),
    path("season/", season.season_page, name="season"),
    path("find/", find.find, name="find"),
    path("glossary/", glossary.glossary, name="glossary"),
    # the composed pages: their names are fleet's: `fleet:mat-list`, `fleet:mat-detail`, `fleet:segment-detail`
    path("mats/", mat_lists.mat_list),
    path("mats/<code:number>/", mats.mat_detail),
    path("mats/<code:number>/change/", changes.change, name="mat-change"),
    path("mats/<code:number>/change/verdicts/", changes.verdicts, name="mat-change-verdicts"),
    path("cables/<code:serial>/", segments.segment_detail),
    path("bench/", bench.choose_mat, name="bench"),
    # before the mats of the bench, which are named by their numbers
    path("bench/pieces/", pieces.list_pieces, name="piece-list"),
    path("bench/pieces/add/", pieces.add, name="piece-add"),
    path("bench/pieces/<code:name>/", pieces.piece_detail, name="piece-detail"),
    path("bench/pieces/<code:name>/correct/", pieces.correct, name="piece-correct"),
    path("bench/pieces/<code:name>/withdraw/", pieces.withdraw, name="piece-withdraw"),
    path("bench/pieces/<code:name>/agree/", pieces.agree, name="piece-agree"),
    path("bench/pieces/<code:name>/read/", pieces.read, name="piece-read"),
    path("agreed-values/<int:pk>/correct/", pieces.correct_agreed, name="agreed-value-correct"),
    path("piece-readings/<int:pk>/correct/", pieces.correct_reading, name="piece-reading-correct"),
    path("piece-readings/<int:pk>/delete/", pieces.delete_reading, name="piece-reading-delete"),
    path("bench/how-to-measure/", guide.how_to_measure, name="how-to-measure"),
    path("bench/<str:number>/", bench.measure_mat, name="bench-mat"),
    path("bench/<str:number>/move/", moving.move, name="bench-move"),
    path("bench/<str:number>/verdicts/", bench.verdicts, name="bench-verdicts"),
    path("bench-days/", bench_days.list_bench_days, name="bench-day-list"),
    path("bench-days/<day:day>/<int:instrument>/", bench_days.bench_day, name="bench-day"),
    path("batches/", batches.batch_list, name="batch-list"),
    path("batches/start/", batches.start, name="batch-start"),
    path("batches/<str:number>/", batches.detail, name="batch"),
    path("batches/<str:number>/read/", batches.read, name="batch-read"),
    path("batches/<str:number>/correct/", batches.correct, name="batch-correct"),
    path("batches/<str:number>/end/", batches.end, name="batch-end"),
    path("batches/<str:number>/print/", batches.sheet, name="batch-sheet"),
    path("batches/<str:number>/values/<int:pk>/strike/", batches.strike, name="batch-strike"),
    path("bench-days/<day:day>/<int:instrument>/looked/", said.looked, name="bench-day-looked"),
    path("bench-days/<day:day>/<int:instrument>/not-trusted/", said.not_trusted, name="bench-day-not-trusted"),
    path("samples/", samples.sample_list, name="sample-list"),
    path("samples/draw/", samples.draw, name="sample-draw"),
    path("samples/<str:number>/", samples.sample_detail, name="sample-detail"),
    path("samples/<str:number>/sheet/", samples.sample_sheet, name="sample-sheet"),
    path("samples/<str:number>/end/", samples.end, name="sample-end"),
    path("samples/<str:number>/withdraw/", samples.withdraw, name="sample-withdraw"),
    path("sweeps/", sweeps.list_sweeps, name="sweep-list"),
    path("sweeps/add/", sweeps.drop, name="sweep-drop"),
    path("sweeps/add/<str:drop>/", sweeps.map_files, name="sweep-map"),
    path("sweeps/add/<str:drop>/file/", sweeps.drop_one, name="sweep-drop-one"),
    path("sweeps/<int:pk>/", sweeps.sweep, name="sweep"),
    path("sweeps/<int:pk>/file/", sweeps.download, name="sweep-file"),
    path("readings/<int:pk>/void/", readings.void, name="reading-void"),
    path("readings/<int:pk>/doubtful/", readings.doubtful, name="reading-doubtful"),
    path("mats/<str:number>/delete/", deleting.mat, name="mat-delete"),
    path("cables/<str:serial>/delete/", deleting.segment, name="segment-delete"),
    path("cables/<str:serial>/fittings/<int:pk>/delete/", deleting.fitting, name="fitting-delete"),
    path("pool/", pool.pool_page, name="pool"),
    path("lives/", pool_life.lives, name="lives"),
    path("lives/limits/", length_limits.limits, name="length-limits"),
    path("lives/limits/use/", used_limits.use, name="length-limits-use"),
    path("lives/limits/used/<int:pk>/", used_limits.used, name="limits-used"),
    path("lives/limits/used/<int:pk>/take-back/", used_limits.take_limits_back, name="limits-take-back"),
    path("lives/card/", limit_card.card, name="limit-card"),
    path("lives/cost/", rule_cost.costs, name="rule-cost"),
    path("lives/rules/", rule_trial.trial, name="rule-trial"),
    path("policy/", policy.policy, name="policy"),
    path("policy/designs/<str:code>/", policy.design_policy, name="policy-design"),
    path("policy/assessing/", policy.assess_again, name="assess-again"),
    path("policy/assessing/<int:pk>/", policy.progress, name="policy-progress"),
    path("instruments/", instruments.list_instruments, name="instrument-list"),
    path("instruments/add/", instruments.add, name="instrument-add"),
    path("instruments/<str:name>/correct/", instruments.correct, name="instrument-correct"),
    path("instruments/<str:name>/withdraw/", instruments.withdraw, name="instrument-withdraw"),
    path("due/", due.due_page, name="due-list"),
    path("due/print/", due.due_print, name="due-print"),
    path("due.csv", due.due_csv, name="due-csv"),
    path("shelf/", shelf.shelf, name="shelf"),
    path("buy/", buying.buy, name="buy"),
    path("buy/print/", buying.buy_print, name="buy-print"),
    path("buy/cables-to-buy.csv", buying.buy_csv, name="buy-csv"),
    path("work-orders/", work_orders.work_order_list, name="work-order-list"),
    path("work-orders/raise/", work_orders.work_order_raise, name="work-order-raise"),
    path("work-orders/raise/all/", bulk.raise_all, name="work-order-raise-all"),
    path("work-orders/print/", bulk.print_orders, name="work-order-print"),
    path("work-orders/print/feet.css", bulk.print_feet, name="work-order-print-feet"),
    path("work-orders/<str:number>/", work_orders.work_order_detail, name="work-order-detail"),
    path("work-orders/<str:number>/foot.css", work_orders.work_order_foot, name="work-order-foot"),
    path("work-orders/<str:number>/done/", sign_off.work_order_done, name="work-order-done"),
    path("work-orders/<str:number>/give/", work_orders.work_order_give, name="work-order-give"),
    path("work-orders/<str:number>/renew/", work_orders.work_order_renew, name="work-order-renew"),
    path("work-orders/<str:number>/withdraw/", work_orders.work_order_withdraw, name="work-order-withdraw"),
    path("mats/<code:number>/record/", records.make, name="record-make"),
    path("records/", records.record_list, name="record-list"),
    path("records/<str:number>/", records.record, name="record"),
    path("records/<str:number>/foot.css", records.foot, name="record-foot"),
    path("records/<str:number>/withdraw/", records.withdraw, name="record-withdraw"),
    path("labels/", labels.choose_labels, name="labels"),
    path("labels/print/", labels.print_labels, name="label-print"),
    path("labels/paper.css", labels.paper, name="label-paper"),
    path("files/", files.files_page, name="files"),
    path("files/export/", files.export, name="files-export"),
    path("files/workbook/", files.export_workbook, name="files-workbook"),
    path("files/template/", files.template, name="files-template"),
    path("files/waiting/<str:file_hash>/", files.waiting, name="files-waiting"),
    path("files/<str:file_hash>/columns/", sheets.columns, name="sheets-columns"),
    path("files/<str:file_hash>/made/", made.made, name="sheets-made"),
    path("files/waiting/<str:file_hash>/leave/", files.leave, name="files-leave"),
    path("files/loads/<int:pk>/", files.load_detail, name="load-detail"),
    path("files/loads/<int:pk>/take-back/", load_views.take_load_back, name="load-take-back"),
    path("copies/", copies.copies_page, name="copies"),
    path("copies/download/", copies.download, name="copy-download"),
    path("copies/send/", copies.send, name="copy-send"),
    path("copies/elsewhere/", copies.elsewhere_name, name="copies-elsewhere"),
    path("copies/elsewhere/now/", copies.elsewhere_now, name="copies-elsewhere-now"),
    path("copies/elsewhere/stop/", copies.elsewhere_stop, name="copies-elsewhere-stop"),
    path("copies/restore/<str:name>/", restores.restore, name="copy-restore"),
    path("copies/restore/<str:name>/leave/", restores.leave, name="copy-leave"),
]
