-- Which joints grow? Milliohms a month by a straight line through a car's drives, the fastest first. A joint whose rise
-- over its drives is within the figure's own plus or minus has not been shown to grow: shown is false.
select
  d.kit,
  d.car,
  c."index" as joint_read_with_cell,
  count(*) as drives,
  regr_slope(c.joint_extra_mohm, d.started_days) * 30 as mohm_a_month,
  max(c.joint_extra_mohm) as highest_mohm,
  regr_slope(c.joint_extra_mohm, d.started_days) * (max(d.started_days) - min(d.started_days))
    > max(c.joint_extra_mohm_plus_minus) as shown
from cells c
join drives d on d.kit = c.kit and d.car = c.car and d.drive = c.drive
where c.joint_extra_mohm is not null and d.started_days is not null
group by d.kit, d.car, c."index"
having count(*) >= 3
order by mohm_a_month desc
limit 20
