-- needs: trials.said_names
-- One row per name that leads to one place. A place's own name wins over what another is also called.
create table trials.place_names as
select name, coalesce(min(place) filter (where is_own), min(place)) as place, coalesce(min(place_key) filter (where is_own), min(place_key)) as place_key
from trials.said_names group by name having bool_or(is_own) or count(distinct place) = 1 order by name;
comment on table trials.place_names is 'One row per name of a place';
