case when {better} = 'lower' then {lowest} else {highest} end
