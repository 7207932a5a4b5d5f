"""How long lists are cut."""

from __future__ import annotations

from rest_framework.pagination import PageNumberPagination


class Page(PageNumberPagination):
    """Fifty a page; `page_size` asks for up to two hundred."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200
