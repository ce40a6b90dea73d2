-- needs: estimates.response_draws
-- One row per common curve and resample of its site-years: slope at zero-N and rate of the plateau, in kg/ha.
create view reports.response_draws as
select crop, family, draw, b, "join" as join_kg_ha, is_below from estimates.response_draws order by crop, family, draw;
comment on view reports.response_draws is 'One row per resampled N response curve (kg/ha)';
