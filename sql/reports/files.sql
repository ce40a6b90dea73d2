-- needs: raw.current_files
-- One row per delivered file that stands in the season folders now, with its sha256.
create view reports.files as
select file, delivery, season, size_bytes, sha256 from raw.current_files order by file;
comment on view reports.files is 'One row per delivered file, with its sha256';
