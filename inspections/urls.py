app_name = "inspections"
urlpatterns = []
