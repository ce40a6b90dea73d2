-- What the reader of a file notes of its layout, of which its sender need do nothing.
create table reference.layout_notes as
select unnest(['merged_cells_filled', 'unit_row', 'headings_in_two_rows', 'states_moisture', 'dates_from_1904', 'hidden_sheet', 'sheet_passed_over']) as what;
comment on table reference.layout_notes is 'One row per kind of note on a layout';
