-- needs: staging.contents, raw.current_files, raw.sheets
-- One row per sheet of each file in its season folder, and per part of a wide one: which table of ours it holds, and whether all in it is called as here;
-- raw_sheet is its name in raw. Filled by the pipeline.
create table staging.sheets (
  file varchar, folder varchar, delivery varchar, season integer, content varchar, sheet varchar, raw_sheet varchar, table_name varchar, is_called_as_here boolean
);
comment on table staging.sheets is 'One row per sheet of a file: the table it holds';
