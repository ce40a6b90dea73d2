-- One row per claim of program.yml: what it states (kg/ha), its verdict, what it rests on and what would settle it; filled by the pipeline.
create table estimates.claims (
  position integer, sentence varchar, printed_in varchar, comparison_id varchar, target varchar, only_in varchar,
  stated_kg_ha double, stated_gain double, stated_unit varchar, verdict varchar,
  estimate_id varchar, estimate double, conf_low double, conf_high double, n_site_years integer, n_seasons integer,
  half_width_wanted double, more_site_years integer, more_seasons integer, settling varchar
);
comment on table estimates.claims is 'One row per claim: stated gain (kg/ha), verdict, evidence, what would settle it';
