"""What is read off a fit: ceilings, comparison, speeds, next coupons, coupon check."""
