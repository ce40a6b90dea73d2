-- needs: staging.sites
-- One row per name a place goes by, in lower case: its own and what it is also called.
create table trials.place_names as
with names as (
  select place, lower(place) as name from staging.sites where place is not null
  union
  select place, lower(trim(unnest(string_split(also_called, ';')))) as name from staging.sites where place is not null and also_called is not null
)
select name, min(place) as place from names where name <> '' group by name having count(distinct place) = 1 order by name;
comment on table trials.place_names is 'One row per name of a place';
