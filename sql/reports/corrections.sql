-- needs: trials.corrections
-- One row per correction: cause, who, when, and what it changed.
create view reports.corrections as select * from trials.corrections;
comment on view reports.corrections is 'One row per correction';
