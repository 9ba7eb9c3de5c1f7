"""Writes tests/fixtures/small_lot.xlsx and .ods: the lot that tests/readings.rs also holds as CSV files.

The lot is invented. Numbers stand as numbers, inch fractions and mixed units as text, as people keep them; the sheet
`marks` begins below and right of A1, and one sheet is not for the tool.

Run from the crate's folder with openpyxl and odfpy installed: python3 tests/support/make_workbooks.py
"""

import datetime
import os
import zipfile

import openpyxl
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

LOT = [
    ["key", "value"],
    ["name", "Kitchen table lot"],
    ["bought_weight", "2 lb"],
    ["target.blank_length", 70.5],
    ["kerf", 0.8],
    ["rig.caliper.sd", 0.04],
    ["humidity_percent", "45 %"],
]
TUBES = [
    ["tube", "length (in)", "weight_g", "note"],
    ["A1", "7 7/8", 31.5, "straight"],
    [None, None, None, None],
    ["A2", "205 mm", 29, None],
    ["# measured on a dry day", None, None, None],
    [3, 8, 30.25, "a number for a name"],
]
LONG = [
    ["tube", "kind", "z", "angle", "value", "set", "rig"],
    ["A1", "diameter", 10, 0, 25.4, None, "caliper"],
    ["A1", "diameter", 10, 90, "1 1/64 in", None, "caliper"],
    ["A1", "runout", 20, "45 deg", "0,12", "first", None],
    [3, "wall", 5, 0, 3.5, None, None],
]
GRID = [
    ["tube", "kind", "z", "0deg", "45 deg", 90],
    ["A2", "diameter", 12.5, 25.1, None, "25,3"],
]
MARKS = [
    [None, None, None, None, None],
    [None, "tube", "from", "to", "why"],
    [None, "A2", 100, 110, "node"],
]
OTHER = [["shopping"], ["sandpaper"]]
SHEETS = {"lot": LOT, "Tubes": TUBES, "readings": LONG, "readings grid": GRID, "marks": MARKS, "Sheet7": OTHER}


def settle(path):
    """Packs the file again without names and times of the program that wrote it."""
    with zipfile.ZipFile(path) as old:
        parts = [(item.filename, old.read(item.filename)) for item in old.infolist()]
    with zipfile.ZipFile(path + ".new", "w", zipfile.ZIP_DEFLATED) as new:
        for name, data in parts:
            if name.startswith("docProps/"):
                data = EMPTY[name]
            if name == "meta.xml":
                head, rest = data.split(b"<office:meta", 1)
                data = head + b"<office:meta/></office:document-meta>"
            entry = zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            new.writestr(entry, data)
    os.replace(path + ".new", path)


EMPTY = {
    "docProps/app.xml": b'<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties"/>',
    "docProps/core.xml": b'<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties"/>',
}


def write_xlsx(path):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in SHEETS.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)


def write_ods(path):
    book = OpenDocumentSpreadsheet()
    for name, rows in SHEETS.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                if value is None:
                    cell = TableCell()
                elif isinstance(value, str):
                    cell = TableCell(valuetype="string")
                    cell.addElement(P(text=value))
                else:
                    cell = TableCell(valuetype="float", value=value)
                    cell.addElement(P(text=str(value)))
                line.addElement(cell)
            table.addElement(line)
        # spreadsheet programs pad sheets with millions of empty cells
        pad = TableRow(numberrowsrepeated=1000000)
        pad.addElement(TableCell(numbercolumnsrepeated=16000))
        table.addElement(pad)
        book.spreadsheet.addElement(table)
    book.save(path)


def write_dates(path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Sheet1"
    sheet.append(["tube", "kind", "z", "angle", "value_in"])
    sheet.append(["A", "diameter", 1, 0, 1])
    sheet.append(["A", "diameter", 1, 90, datetime.date(2026, 5, 8)])
    sheet.append(["B", "diameter", 1, 90, 1.01])
    # a stray cell in the far corner, as left behind by a slip of the hand
    sheet["XFD1048576"] = " "
    book.save(path)


write_xlsx("tests/fixtures/small_lot.xlsx")
write_ods("tests/fixtures/small_lot.ods")
write_dates("tests/fixtures/dates.xlsx")
for name in ["small_lot.xlsx", "small_lot.ods", "dates.xlsx"]:
    settle("tests/fixtures/" + name)
