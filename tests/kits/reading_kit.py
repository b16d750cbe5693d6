"""What the tests of reading and writing share: a text read, a text refused, a workbook made."""

from __future__ import annotations

import io

import openpyxl
import pandas as pd
import pytest

import gradekit as gk


def read(text: str | bytes, **options) -> pd.DataFrame:
    return gk.read_heats(text.encode() if isinstance(text, str) else text, **options)


def refused(text: str | bytes) -> str:
    with pytest.raises(gk.InputError) as caught:
        read(text)
    return str(caught.value)


def workbook(rows, formats=(), sheets=()) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    for cell, shape in dict(formats).items():
        book.active[cell].number_format = shape
    for name, content in dict(sheets).items():
        sheet = book.create_sheet(name)
        for row in content:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
