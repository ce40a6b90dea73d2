-- needs: raw.files
-- The files that stand in the season folders now: the latest arrival of each path that was not withdrawn.
-- Two variables can look back: up to an arrival, or without some seasons.
create view raw.current_files as
with seen as (
  select * from raw.files
  where arrival <= coalesce(getvariable('last_arrival'), 9223372036854775807)
    and not list_contains(coalesce(getvariable('without_seasons'), []::integer[]), season)
)
select file, delivery, season, sha256, size_bytes, arrival, held_because, held_rows, only_sender_mends
from seen
where not withdrawn
  and arrival in (select max(arrival) from seen group by file);
comment on view raw.current_files is 'Latest arrival of each file still in its season folder';
