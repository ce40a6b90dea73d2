-- needs: staging.sites
-- One row per name said of a place: its own or one it is also called, in lower case, with the first row that says so.
-- Places whose letters and digits are the same are one, in whichever case and with whatever between them.
create table trials.said_names as
with described as (
  select *, lower(regexp_replace(place, '[^\p{L}\p{N}]+', '-', 'g')) as place_key from staging.sites where place is not null
),
one as (
  select * exclude (place), place as written, min(place) over (partition by place_key) as place from described
),
said as (
  select place, place_key, written, lower(written) as name, true as is_own, file, sheet, row_number from one
  union all
  select place, place_key, written, lower(trim(unnest(string_split(also_called, ';')))), false, file, sheet, row_number
  from one where also_called is not null
)
select name, place, place_key, written, is_own, min_by({'file': file, 'sheet': sheet, 'row_number': row_number}, (file, row_number)) as first_said
from said where name <> '' group by all order by name, written, is_own;
comment on table trials.said_names is 'One row per name and place it is said of';
