-- One row per comparison, drainage group and rainfall class, empty ones too: site-years and seasons met; filled by the pipeline.
create table estimates.evidence (
  comparison_id varchar, drainage_group varchar, rainfall_class varchar, n_site_years integer, n_places integer, n_seasons integer,
  seasons varchar, shown_as varchar
);
comment on table estimates.evidence is 'One row per cell of evidence';
