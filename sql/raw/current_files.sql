-- needs: raw.files
-- The files that stand in the season folders now: the latest arrival of each path that was not withdrawn.
create view raw.current_files as
select file, delivery, season, sha256, size_bytes, arrival
from raw.files
where not withdrawn
  and arrival in (select max(arrival) from raw.files group by file);
comment on view raw.current_files is 'Latest arrival of each file still in its season folder';
