"""What the office's views share."""

from __future__ import annotations

from typing import Any

from rest_framework import mixins, status
from rest_framework.permissions import BasePermission
from rest_framework.response import Response
from rest_framework.serializers import Serializer
from rest_framework.viewsets import GenericViewSet

from locates.rest.roles import EveryRole, OfficeWrites
from locates.rest.views import Api

PermissionClasses = list[type[BasePermission]]


class Register(Api, mixins.ListModelMixin, mixins.RetrieveModelMixin, GenericViewSet):
    """A list that is read row by row and written through the services; never deleted from. Everybody reads
    what they may see, the office writes, unless the view says otherwise."""

    http_method_names = ["get", "post", "patch", "head", "options"]
    permission_classes: PermissionClasses = [OfficeWrites]

    @property
    def person(self) -> Any:
        return self.request.user

    def given(self, form_class: type[Serializer], **options: Any) -> dict[str, Any]:
        """The checked content of the request; raises what becomes problem details."""
        form = form_class(data=self.request.data, context=self.get_serializer_context(), **options)
        form.is_valid(raise_exception=True)
        return dict(form.validated_data)

    def answer(self, row: Any, *, created: bool = False) -> Response:
        """The row as the list shows it."""
        code = status.HTTP_201_CREATED if created else status.HTTP_200_OK
        return Response(self.get_serializer(row).data, status=code)


class FieldRegister(Register):
    """A list that the crew writes too, for its own jobs."""

    permission_classes: PermissionClasses = [EveryRole]
