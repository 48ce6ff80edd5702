"""The paper: the day on one page to hand over, in a workbook, in a dozen lines; and beside another job."""
