-- needs: trials.sites, trials.site_years
-- One row per place with trials: where it lies, as its sites' mean position, and how many site-years it has that are not just planned, over all crops.
create view reports.places as
select s.place, avg(s.latitude) as latitude, avg(s.longitude) as longitude, any_value(y.n_site_years) as n_site_years
from trials.sites as s
inner join (select place, count(distinct site_year_id) as n_site_years from trials.site_years where n_planned < n_trials group by place) as y on y.place = s.place
where s.latitude is not null and s.longitude is not null
group by s.place
order by s.place;
comment on view reports.places is 'One row per place whose position was delivered';
