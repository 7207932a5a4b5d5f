"""Pages of the locates."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from locates.field.pages import files, instruments, job, method, photos, pipe, quality, report, runs, soil, worker

urlpatterns: list[URLPattern | URLResolver] = [
    path("locates/", runs.locates, name="locates"),
    path("locates/method", method.method, name="locate-method"),
    path("locates/worker.js", worker.script, name="locate-worker"),
    path("locates/jobs/<int:pk>/", job.job, name="locate-job"),
    path("locates/jobs/<int:pk>/new", runs.run_new, name="locate-run-new"),
    path("locates/jobs/<int:pk>/unsent", runs.unsent, name="locate-unsent"),
    path("locates/jobs/<int:pk>/report.pdf", report.report, name="locate-report"),
    path("locates/jobs/<int:pk>/soil/<int:area_pk>", soil.soil, name="locate-soil"),
    path("locates/runs/<int:pk>/", runs.run, name="locate-run"),
    path("locates/runs/<int:pk>/points", runs.run_points, name="locate-run-points"),
    path("locates/runs/<int:pk>/point", runs.point_new, name="locate-point-new"),
    path("locates/runs/<int:pk>/point/<int:point_pk>/out", runs.point_out, name="locate-point-out"),
    path("locates/runs/<int:pk>/instruments", instruments.instruments, name="locate-instruments"),
    path("locates/runs/<int:pk>/pipe", pipe.pipe, name="locate-pipe"),
    path("locates/runs/<int:pk>/pipe/described", pipe.pipe_described, name="locate-pipe-described"),
    path("locates/runs/<int:pk>/pipe/<int:observation_pk>/out", pipe.observation_out, name="locate-observation-out"),
    path("locates/runs/<int:pk>/quality", quality.quality, name="locate-quality"),
    path("locates/runs/<int:pk>/quality/<int:backing_pk>/out", quality.backing_out, name="locate-backing-out"),
    path("locates/runs/<int:pk>/photos", photos.photos, name="locate-photos"),
    path("locates/runs/<int:pk>/photos/<int:photo_pk>", photos.photo, name="locate-photo"),
    path("locates/runs/<int:pk>/files", files.files, name="locate-run-files"),
    path("locates/runs/<int:pk>/points.csv", files.points_csv, name="locate-run-csv"),
    path("locates/runs/<int:pk>/points.geojson", files.points_geojson, name="locate-run-geojson"),
    path("locates/runs/<int:pk>/finish", runs.run_finish, name="locate-run-finish"),
]
