-- needs: estimates.evidence, reports.comparisons
-- One row per cell of drainage and rainfall, empty ones too.
create view reports.evidence as
select e.*, c.position, c.crop
from estimates.evidence as e inner join reports.comparisons as c on c.comparison_id = e.comparison_id
order by c.position, e.drainage_group, e.rainfall_class;
comment on view reports.evidence is 'One row per cell of evidence';
