-- needs: estimates.season_inputs
-- One row per season with accepted trials: what the averages rested on when it was the last.
create view reports.season_inputs as
select season, data_sha256
from estimates.season_inputs
order by season;
comment on view reports.season_inputs is 'One row per season: hash of the data up to and with it';
