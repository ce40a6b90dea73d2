-- One row per crop, place and rainfall class: its share of the years of the reference period; filled by the pipeline.
create table estimates.class_shares (
  crop varchar, place varchar, rainfall_class varchar, share double
);
comment on table estimates.class_shares is 'One row per share of a rainfall class in the reference period';
