-- needs: raw.current_files, raw.readings
-- One row per file that is read: under which name raw.sheets, raw.rows and raw.notes hold its reading. Filled by the pipeline.
create table staging.contents (file varchar, content varchar);
comment on table staging.contents is 'One row per file that is read: what raw calls its reading';
