-- One row per comparison and proposed site, the most useful first; filled by the pipeline.
create table estimates.proposed_trials (
  comparison_id varchar, rank integer, site_id varchar, place varchar, drainage_group varchar, n_site_years_here integer,
  empty_classes varchar, thin_classes varchar, chance_of_thin_class double, why varchar
);
comment on table estimates.proposed_trials is 'One row per proposed trial';
