-- How much less per acre than the best N rate still counts as nearly as well, from program.yml; no row where it declares nothing; filled by the pipeline.
create table reference.nearly_as_well ("value" double, unit varchar, basis varchar, fixed_on date);
comment on table reference.nearly_as_well is 'One row: the declared band around the best N rate';
