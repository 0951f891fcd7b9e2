"""Twenty lists as people keep them: what each is taken for without a question, in the file formats that they have."""

import pytest
from kept_workbooks import MAKERS, kept

from inspections.own_sheets.columns.kept_selectors import KnownCodes
from inspections.own_sheets.columns.proposals import propose
from inspections.workbooks.reading import read_workbook

# {file: (kind, field of each column) of its first sheet}
TAKEN_FOR = {
    "mats with seasons.xlsx": ("mats", "mat,build,depot,acquired,cables changed,note"),
    "events.xlsx": ("events", "starts,event,weather,mats"),
    "cables.xlsx": ("cables", "segment,mat,length,fitted"),
    "loss by position.xlsx": ("readings wide", "mat,day,loss by heading,loss by heading,loss by heading"),
    "months.xlsx": ("calendar", "mat,use by heading,use by heading,use by heading"),
    "summary.xlsx": ("left out", ","),
    "readings.xlsx": ("readings", "mat,position,day,loss"),
    "of 1904.xlsx": ("events", "event,starts,"),
    "days.xlsx": ("calendar", "mat,use by heading,use by heading,use by heading,use by heading"),
    "dressed up.xlsx": ("mats", "mat,depot,,,"),
    "with macros.xlsm": ("mats", "mat"),
    "mats of 2009.xls": ("mats", "mat,width,acquired,cables changed,"),
    "events of 2012.xls": ("events", "starts,,,event,mats"),
    "cables.ods": ("cables", "segment,length,fitted,,mat,"),
    "readings.ods": ("readings wide", "mat,loss by heading,loss by heading,loss by heading"),
    "mats.ods": ("mats", "mat,depot"),
    "semicolons.csv": ("readings", "mat,,loss,day"),
    "tabs.txt": ("events", "event,mats,starts"),
    "commas.csv": ("cables", "segment,note"),
    "bars.csv": ("readings", "mat,position,loss"),
}


@pytest.mark.parametrize("file", [file for file, _ in MAKERS])
def test_a_list_is_taken_for_what_it_is(file):
    case = kept(file)
    workbook = read_workbook(case.file, case.content)
    first = propose(workbook, {}, KnownCodes())[0]
    fields = {column.index: column.field for column in first.columns}
    columns = workbook.sheets[0].texts.shape[1]
    assert (first.kind, ",".join(fields.get(at, "") for at in range(columns))) == TAKEN_FOR[file]
