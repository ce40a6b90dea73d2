-- needs: staging.contents, raw.current_files, raw.sheets
-- One row per heading of a sheet: tidied as raw has it, as it was typed, and our heading for it; pieces, where its text is put together. Filled by the pipeline.
create table staging.headings (
  file varchar, folder varchar, sheet varchar, table_name varchar, heading_row integer, delivered varchar, verbatim varchar, heading varchar,
  pieces varchar[], decimal_commas boolean
);
comment on table staging.headings is 'One row per heading of a sheet: what it is called there and here';
