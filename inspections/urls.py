from django.urls import path

from .views import bench, instruments, readings

app_name = "inspections"
urlpatterns = [
    path("bench/", bench.choose_mat, name="bench"),
    path("bench/<str:number>/", bench.measure_mat, name="bench-mat"),
    path("bench/<str:number>/verdicts/", bench.verdicts, name="bench-verdicts"),
    path("readings/<int:pk>/take-back/", readings.take_back, name="reading-take-back"),
    path("readings/<int:pk>/doubtful/", readings.doubtful, name="reading-doubtful"),
    path("instruments/", instruments.list_instruments, name="instrument-list"),
    path("instruments/add/", instruments.add, name="instrument-add"),
    path("instruments/<str:name>/correct/", instruments.correct, name="instrument-correct"),
    path("instruments/<str:name>/withdraw/", instruments.withdraw, name="instrument-withdraw"),
]
